"""Minor units and shares, and how they are shown."""

from __future__ import annotations

# published (ISO 4217, list one): currencies whose minor unit is not a hundredth; from memory.
_DIGITS = dict.fromkeys(
    "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX UYI VND VUV XAF XOF XPF".split(), 0
) | dict.fromkeys("BHD IQD JOD KWD LYD OMR TND".split(), 3)


def minor_digits(currency: str) -> int:
    """Decimals of a currency: 2 unless ISO 4217 says otherwise.

    >>> minor_digits("EUR"), minor_digits("JPY"), minor_digits("KWD")
    (2, 0, 3)
    """
    return _DIGITS.get(currency, 2)


def show_money(minor: int, currency: str) -> str:
    """An amount of minor units as a person writes it.

    >>> show_money(345000, "EUR"), show_money(-1250, "JPY")
    ('EUR 3,450.00', 'JPY -1,250')
    """
    digits = minor_digits(currency)
    whole, rest = divmod(abs(minor), 10**digits)
    tail = f".{rest:0{digits}d}" if digits else ""
    return f"{currency} {'-' if minor < 0 else ''}{whole:,}{tail}"


def to_minor(major: float, currency: str) -> int:
    """An amount of whole currency units (euros, yen, ...) in minor units, rounded.

    >>> to_minor(75.0, "EUR"), to_minor(75.0, "JPY")
    (7500, 75)
    """
    return round(major * 10.0 ** minor_digits(currency))


def percent(share: float) -> str:
    """A share (0..1) in whole per cent.

    >>> percent(0.6)
    '60 %'
    """
    return f"{share * 100:.0f} %"
