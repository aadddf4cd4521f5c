"""Answers made up by hand, for tests of how answers are shown: round figures, one hostile name."""

from __future__ import annotations

from wreckwright.answers.types import (
    Bid,
    BidPoint,
    ChanceEnd,
    ChanceOf,
    DayQuantile,
    DaySpread,
    Difference,
    Driver,
    FinishPoint,
    FitEntry,
    FitList,
    Flip,
    Foresight,
    HoursSpread,
    LeansOn,
    MoneyBin,
    MoneySpread,
    MonthCash,
    Option,
    OtherWay,
    PartOutTerms,
    PayPerHour,
    Reckoning,
    RestsOn,
    RightToStop,
    StopPoint,
    Suspect,
    Verdict,
    Waiting,
)

HOSTILE = 'Sor<b>rel & "co"'
RESTS_ON = (
    RestsOn(
        field="market.days_to_sell",
        value="30 days",
        basis="common practice",
        words="our guess about market.days_to_sell: 30 days (common practice)",
    ),
)


def spread(p20: int, p50: int, p80: int) -> MoneySpread:
    return MoneySpread(
        p20_minor=p20,
        p50_minor=p50,
        p80_minor=p80,
        mean_minor=p50,
        p20_se_minor=900,
        p50_se_minor=800,
        p80_se_minor=900,
        mean_se_minor=700,
    )


def quantile(days: int, date: str, words: str) -> DayQuantile:
    return DayQuantile(days=days, date=date, days_se=1.5, words=words)


def foresight(nickname: str = "Sorrel") -> Foresight:
    curve = tuple(
        FinishPoint(days=30 * step, date="2026-12-01", share=round(0.83 * min(1.0, max(0.0, (step - 2) / 9)) ** 0.6, 4))
        for step in range(14)
    )
    heights = (1, 2, 4, 9, 15, 19, 18, 14, 9, 5, 3, 1)
    bins = tuple(
        MoneyBin(from_minor=-120_000 + 30_000 * step, to_minor=-90_000 + 30_000 * step, share=height / 100)
        for step, height in enumerate(heights)
    )
    return Foresight(
        nickname=nickname,
        as_of="2026-11-02",
        why="It is finished in 8 of 10 futures, and the papers decide the date.",
        rests_on=RESTS_ON,
        n_futures=2000,
        currency="EUR",
        bought=True,
        price_minor=210_000,
        notes=("This holds if the plan is kept.",),
        price_free=False,
        finishes=ChanceOf(chance=0.83, chance_se=0.008, words="about 8 in 10"),
        ends_otherwise=(
            ChanceEnd(how="the papers are refused", chance=0.12, chance_se=0.007),
            ChanceEnd(how="the frame head is bent", chance=0.05, chance_se=0.005),
        ),
        finish=DaySpread(
            p50=quantile(150, "2027-04-01", "1 April 2027"), p80=quantile(240, "2027-06-30", "30 June 2027")
        ),
        sold=DaySpread(p50=quantile(180, "2027-05-01", "1 May 2027"), p80=quantile(280, "2027-08-09", "9 August 2027")),
        spend=spread(60_000, 90_000, 140_000),
        largest_cash_out=spread(70_000, 99_000, 150_000),
        hours=HoursSpread(p50_hours=61.0, p80_hours=82.5, mean_hours=64.0, mean_se_hours=0.5),
        net_from_here=spread(200_000, 250_000, 300_000),
        net=spread(-10_000, 40_000, 90_000),
        sunk_minor=230_000,
        pay_per_hour=PayPerHour(mean_minor=620, mean_se_minor=14, p20_minor=-160, p50_minor=610, p80_minor=1500),
        loss=ChanceOf(chance=0.26, chance_se=0.01, words="about 1 in 4"),
        drivers_of_finish=(
            Driver(name="answer about the papers", share=0.41, share_se=0.02),
            Driver(name="evenings really worked", share=0.2, share_se=0.02),
        ),
        drivers_of_net=(Driver(name="what it sells for", share=0.5, share_se=0.02),),
        waiting=(Waiting(what="papers at the bank", kind="outside_gate", hours_mean=21.0, share=0.6),),
        suspects=(Suspect(component="water pump", chance=0.41, words="about 4 in 10, trade judgement"),),
        what_happened=(
            Suspect(component="slid on its right side", chance=0.9, words="about 9 in 10, trade judgement"),
        ),
        unnamed_damage_minor=6_000,
        finish_curve=curve,
        net_bins=bins,
    )


def bid(nickname: str = "Magpie") -> Bid:
    def point(price_minor: int) -> BidPoint:
        share = min(1.0, max(0.0, (price_minor / 100_000 - 0.4) / 3.0)) ** 1.4
        return BidPoint(
            price_minor=price_minor,
            all_in_minor=price_minor + 40_000,
            loss_chance=share,
            loss_chance_se=0.01,
            net_mean_minor=190_000 - price_minor,
            pay_per_hour_minor=(190_000 - price_minor) // 60,
        )

    return Bid(
        nickname=nickname,
        as_of="2026-11-02",
        why="Above 1,150 EUR more than 2 in 10 futures lose money.",
        rests_on=RESTS_ON,
        n_futures=2000,
        currency="EUR",
        bought=False,
        price_minor=None,
        looking_back=False,
        walk_away_minor=115_000,
        words="Walk away above 1,150 EUR.",
        binds="chance of a loss",
        accepted_loss_chance=0.2,
        wanted_pay_minor=800,
        hour_value_minor=0,
        price_for_loss_minor=115_000,
        price_for_loss_low_minor=112_000,
        price_for_loss_high_minor=118_000,
        price_for_loss_dark_map_minor=96_000,
        price_for_loss_bright_map_minor=131_000,
        price_for_loss_hours_paid_minor=60_000,
        price_for_pay_minor=140_000,
        other_ways=(
            OtherWay(name="part_out", words="part it out", price_for_loss_minor=90_000, net_mean_minor=110_000),
            OtherWay(
                name="sell_as_it_stands",
                words="sell it on as it stands",
                price_for_loss_minor=None,
                net_mean_minor=-4_000,
            ),
        ),
        at_walk_away=point(115_000),
        at_price=None,
        curve=tuple(point(10_000 * step) for step in range(2, 27)),
        notes=("Whoever bids most has most often judged too well; this is not taken off here.",),
    )


def reckoning(hour_value_minor: int) -> Reckoning:
    options = (
        Option(
            name="carry_on",
            words="carry on",
            worth_minor=250_000,
            worth_se_minor=900,
            cash_minor=250_000,
            hours=64.0,
            days=190.0,
        ),
        Option(
            name="sell_as_it_stands",
            words="sell it as it stands",
            worth_minor=140_000,
            worth_se_minor=400,
            cash_minor=140_000,
            hours=0.0,
            days=20.0,
        ),
        Option(
            name="part_out",
            words="part it out",
            worth_minor=160_000,
            worth_se_minor=500,
            cash_minor=160_000,
            hours=30.0,
            days=120.0,
        ),
    )
    return Reckoning(
        hour_value_minor=hour_value_minor,
        dead_band_minor=5_000,
        choice="carry_on",
        leaning="carry_on",
        options=options,
        differences=(
            Difference(better="carry_on", than="part_out", mean_minor=90_000, se_minor=1000, clear=True),
            Difference(better="carry_on", than="sell_as_it_stands", mean_minor=110_000, se_minor=1000, clear=True),
        ),
        right_to_stop=RightToStop(
            worth_minor=3_000,
            worth_se_minor=500,
            used=True,
            in_sample_minor=3_400,
            stops_chance=0.07,
            points=(
                StopPoint(
                    when="after the first start",
                    reached_chance=0.9,
                    stop_chance=0.07,
                    spend_if_stopped_minor=150_000,
                    spend_if_carried_on_minor=60_000,
                ),
            ),
        ),
    )


def verdict(nickname: str = "Sorrel") -> Verdict:
    return Verdict(
        nickname=nickname,
        as_of="2026-11-02",
        why="Carrying on is worth 900 EUR more than parting it out.",
        rests_on=RESTS_ON,
        n_futures=2000,
        currency="EUR",
        bought=True,
        price_minor=210_000,
        choice="carry_on",
        leaning="carry_on",
        sunk_minor=230_000,
        reckoning=reckoning(800),
        hours_free=reckoning(0),
        flips=(
            Flip(
                input="what a straight one fetches",
                to="part_out",
                now_minor=450_000,
                at_minor=330_000,
                change_share=-0.267,
                words="if a straight one fetched 3,300 EUR instead of 4,500 EUR, part it out",
            ),
        ),
        map_doubt=None,
        leans_on=(
            LeansOn(
                name="what it sells for", end="low", to="part_out", words="where it sells worst, parting out is better"
            ),
        ),
        part_out_terms=PartOutTerms(
            hours=30.0,
            listings=25,
            months=4.0,
            words="30 hours, 25 adverts, 4 months",
            cash_by_month=(MonthCash(month=1, by_then_minor=50_000), MonthCash(month=4, by_then_minor=160_000)),
        ),
    )


def fit_list(nickname: str = "Sorrel") -> FitList:
    def entry(item: str, name: str, state: str, **more: object) -> FitEntry:
        said = {
            "how_proved": "by hand",
            "proof": "",
            "second_person": "",
            "specialist_paper": "",
            "needs_specialist_paper": False,
            "suspected": (),
            "reason": "Nobody has proved it.",
        } | more
        return FitEntry(item=item, name=name, state=state, **said)  # type: ignore[arg-type]

    return FitList(
        nickname=nickname,
        as_of="2026-11-02",
        why="1 of 3 is proved by hand; the road test stays shut.",
        rests_on=(),
        items=(
            entry("brakes", "brakes", "proved", proof="discs measured, hoses new", reason="Proved by hand."),
            entry("chain", "chain and sprockets", "not proved"),
            entry(
                "steering",
                "steering",
                "not touched but suspected",
                needs_specialist_paper=True,
                suspected=(Suspect(component="steering stem", chance=0.4, words="about 4 in 10, trade judgement"),),
            ),
        ),
        all_proved=False,
        shut=("road test", "handover"),
        suspect_over=0.1,
        without_second_person=("brakes",),
    )
