"""What to pay: the price to walk away at, any other price that is tried, and what it was worth where it is bought.

All expected words are our own rules; figures are those of the answers that were reckoned for the example machines.
"""

from __future__ import annotations

import re

import pytest
from starlette.testclient import TestClient

from tests.web.reading import flat, read
from tests.web.states import in_state, said
from wreckwright.acts.reckon import Reckoner
from wreckwright.answers.types import Bid
from wreckwright.papers.words import money, percent


def bid_of(reckoner: Reckoner, uid: str) -> Bid:
    found = reckoner.look(uid).answers
    assert found is not None
    return found.bid


def test_the_price_to_walk_away_at_comes_first_with_its_reasons(
    client: TestClient, uids: dict[str, str], reckoner: Reckoner
) -> None:
    answer = bid_of(reckoner, uids["Magpie"])
    html = client.get(f"/machine/{uids['Magpie']}/bid").text
    text = flat(html)
    assert f'<p class="verdict">{said(answer.words)}</p>' in html
    why = said(answer.why.removeprefix(answer.words.rstrip(".")).lstrip(":; "))
    assert text.index(said(answer.words)) < text.index(why) < text.index("Try a price")
    assert said(answer.why) not in text, "the sentence is not said twice"


def test_terms_and_other_ways_are_those_of_the_answer(
    client: TestClient, uids: dict[str, str], reckoner: Reckoner
) -> None:
    answer = bid_of(reckoner, uids["Magpie"])
    text = flat(client.get(f"/machine/{uids['Magpie']}/bid").text)
    assert f"A loss in at most {percent(answer.accepted_loss_chance)}" in text
    assert f"{money(answer.wanted_pay_minor, answer.currency)} left for each own hour, on average" in text
    assert answer.other_ways
    for way in answer.other_ways:
        price = way.price_for_loss_minor
        words = "not at any price" if price is None else money(price, answer.currency)
        assert f"{said(way.words).rstrip('.')} {words}" in text
    for note in answer.notes:
        assert said(note) in text


def test_the_curve_is_there_as_a_table_too(client: TestClient, uids: dict[str, str], reckoner: Reckoner) -> None:
    answer = bid_of(reckoner, uids["Sorrel"])
    html = client.get(f"/machine/{uids['Sorrel']}/bid").text
    rows = re.findall(r"<tr><td class=\"figure\">([^<]*)</td>.*?<td>([^<]*)</td></tr>", html)
    prices = [int(price.replace(",", "")) for price, _ in rows]
    assert prices == sorted(prices)
    known = {money(point.price_minor, of=answer.currency) for point in answer.curve}
    assert {price for price, _ in rows} <= known
    assert answer.at_price is not None and answer.at_walk_away is not None
    marked = {mark: price for price, mark in rows if mark}
    assert marked == {
        "paid": money(answer.at_price.price_minor, of=answer.currency),
        "walk away": money(answer.at_walk_away.price_minor, of=answer.currency),
    }


def test_for_a_machine_that_is_bought_it_looks_back(
    client: TestClient, uids: dict[str, str], reckoner: Reckoner
) -> None:
    answer = bid_of(reckoner, uids["Sorrel"])
    assert answer.price_minor is not None
    page = flat(client.get(f"/machine/{uids['Sorrel']}/bid").text)
    assert f"It is bought: {money(answer.price_minor, answer.currency)} was paid." in page
    assert "it changes nothing about carrying on or stopping" in page
    assert "What it was worth" in page and "What a price does" in page


# ---- A price that is tried ------------------------------------------------------------------------------------------


def test_a_price_on_the_curve_gives_the_figures_of_that_point(
    client: TestClient, uids: dict[str, str], reckoner: Reckoner
) -> None:
    answer = bid_of(reckoner, uids["Sorrel"])
    point = answer.curve[3]
    html = client.get(f"/machine/{uids['Sorrel']}/bid?price={point.price_minor // 100}").text
    text = flat(html)
    assert point.pay_per_hour_minor is not None
    assert f"ends in a loss in {percent(point.loss_chance)} of the futures" in text
    assert f"an own hour brings {money(point.pay_per_hour_minor, answer.currency)} on average" in text
    assert "read between" not in text
    assert 'role="status"' in html and html.count("<circle") == 2
    assert read(html).form(f"/machine/{uids['Sorrel']}/bid#tried").value("price") == str(point.price_minor // 100)


def test_a_price_between_two_points_says_that_it_is_read_off(
    client: TestClient, uids: dict[str, str], reckoner: Reckoner
) -> None:
    answer = bid_of(reckoner, uids["Sorrel"])
    between = (answer.curve[0].price_minor + answer.curve[1].price_minor) // 2 // 100
    text = flat(client.get(f"/machine/{uids['Sorrel']}/bid", params={"price": f"{between}.37"}).text)
    assert "It is read between the two nearest prices that were reckoned with." in text


def test_it_says_on_which_side_of_the_price_to_walk_away_at_it_lies(
    client: TestClient, uids: dict[str, str], reckoner: Reckoner
) -> None:
    answer = bid_of(reckoner, uids["Sorrel"])
    assert answer.walk_away_minor
    cheap, dear = answer.curve[0].price_minor // 100, answer.curve[-1].price_minor // 100
    address = f"/machine/{uids['Sorrel']}/bid"
    assert "That is within what you accept." in flat(client.get(f"{address}?price={cheap}").text)
    assert "That is dearer than the price to walk away at." in flat(client.get(f"{address}?price={dear}").text)


def test_where_no_price_will_do_it_says_so(client: TestClient, uids: dict[str, str], reckoner: Reckoner) -> None:
    assert bid_of(reckoner, uids["Magpie"]).walk_away_minor is None
    text = flat(client.get(f"/machine/{uids['Magpie']}/bid?price=1000").text)
    assert "No price is within what you accept, if this plan is carried through." in text


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("lots", "Price: 'lots' is no sum in EUR."),
        ("-5", "Price: '-5' is no sum in EUR."),
        ("9,000,000", "lies outside the prices that were reckoned with"),
        ("<b>7", "&lt;b&gt;7"),
    ],
)
def test_a_price_that_cannot_be_tried_is_answered_with_what_can(
    client: TestClient, uids: dict[str, str], typed: str, words: str
) -> None:
    answer = client.get(f"/machine/{uids['Magpie']}/bid", params={"price": typed})
    assert answer.status_code == 422
    assert words in answer.text or words in flat(answer.text)
    assert read(answer.text).form(f"/machine/{uids['Magpie']}/bid#tried").value("price") == typed
    assert "What a price does" in flat(answer.text), "all else is still there"


def test_nothing_typed_is_no_error(client: TestClient, uids: dict[str, str]) -> None:
    answer = client.get(f"/machine/{uids['Magpie']}/bid?price=")
    assert answer.status_code == 200 and 'role="alert"' not in answer.text


# ---- Before there is an answer --------------------------------------------------------------------------------------


def test_while_it_is_reckoned_it_asks_again_and_leads_to_how_far_it_is(
    client: TestClient, monkeypatch: pytest.MonkeyPatch, reckoner: Reckoner, uids: dict[str, str]
) -> None:
    uid = uids["Magpie"]
    in_state(monkeypatch, reckoner, uid, state="running", step="drawing", answers=None)
    html = client.get(f"/machine/{uid}/bid").text
    assert "The answer comes in a moment." in flat(html)
    assert f'hx-get="/machine/{uid}/bid" hx-trigger="every 2s" hx-select="#bid"' in html
    assert read(html).links[f"/machine/{uid}"]


def test_once_it_is_there_nothing_asks_any_more(client: TestClient, uids: dict[str, str]) -> None:
    assert "hx-trigger" not in client.get(f"/machine/{uids['Magpie']}/bid").text


def test_while_it_is_reckoned_again_the_former_answer_is_told_to_be_old(
    client: TestClient, monkeypatch: pytest.MonkeyPatch, reckoner: Reckoner, uids: dict[str, str]
) -> None:
    in_state(monkeypatch, reckoner, uids["Magpie"], state="running", step="drawing", stale=True)
    text = flat(client.get(f"/machine/{uids['Magpie']}/bid").text)
    assert "Something was changed since: it is being reckoned again." in text and "Try a price" in text


def test_without_an_answer_it_leads_to_the_reason(
    client: TestClient, monkeypatch: pytest.MonkeyPatch, reckoner: Reckoner, uids: dict[str, str]
) -> None:
    in_state(monkeypatch, reckoner, uids["Magpie"], state="failed", why="No.", answers=None)
    html = client.get(f"/machine/{uids['Magpie']}/bid").text
    assert "There is no answer yet." in flat(html) and "hx-trigger" not in html
    assert "Why, and how to have it reckoned" in flat(html)
