"""Business, shops, places, terms and people."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.contrib.auth.hashers import make_password

from shopserv.demo.rows import (
    INVENTED,
    LONG_AGO,
    Tally,
    day,
    included_work,
    percent_ppm,
    ppm,
    scenario,
    the_day,
    thousandths,
)
from shopserv.shop.models import (
    Bay,
    Business,
    ClimatePlace,
    HouseRules,
    Instrument,
    MarkupTable,
    RateCard,
    RoleGrant,
    Shop,
    Staff,
    SuppliesRule,
    TaxRate,
    ToleranceRule,
    WasteRule,
)

Shops = dict[str, Shop]
MILE_MM = 1_609_344


def load_places(tally: Tally) -> dict[str, ClimatePlace]:
    """Climate places by their code."""
    rows = [
        ClimatePlace(
            code=place["code"],
            name=place["name"],
            altitude_m=place["altitude_m"],
            mean_mdegc=[thousandths(v) for v in place["mean_c"]],
            humidity_ppm=[v * 10_000 for v in place["rh_pct"]],
            swing_mk=[thousandths(v) for v in place["daily_swing_k"]],
            source=INVENTED,
            from_on=LONG_AGO,
        )
        for place in scenario()["climates"]
    ]
    return {key[0]: row for key, row in tally.ensure(ClimatePlace, ("code", "from_on"), rows).items()}


def load_shops(tally: Tally, places: dict[str, ClimatePlace]) -> Shops:
    """The business and its shops by their code, with bays and instruments."""
    data = scenario()
    firm = Business(**{**data["business"], "customer_languages": data["business"]["customer_languages"]})
    business = tally.ensure(Business, ("tax_number",), [firm])[(firm.tax_number,)]
    first = "us" if data["rules"]["units_first"]["volume"] == "qt" else "metric"
    rows = [_shop(business, shop, places[shop["climate"]], first) for shop in data["shops"]]
    shops = {key[0]: row for key, row in tally.ensure(Shop, ("code",), rows).items()}
    tally.ensure(Bay, ("shop", "name"), [_bay(shops[bay["shop"]], bay) for bay in data["bays"]])
    tally.ensure(Instrument, ("serial",), [_instrument(shops[one["shop"]], one) for one in data["instruments"]])
    return shops


def _shop(business: Business, shop: dict[str, Any], place: ClimatePlace, units_first: str) -> Shop:
    return Shop(
        business=business,
        code=shop["code"],
        name=shop["name"],
        short_name=shop["name"].split(", ")[-1],
        address=shop["address"],
        phone=shop["phone"],
        email=shop["email"],
        time_zone=shop["time_zone"],
        altitude_m=shop["altitude_m"],
        climate=place,
        registration_number=shop["registration_number"],
        document_title=shop["document_title"],
        estimate_choices=shop["estimate_choice"],
        fluid_price_rule=shop["fluid_price_rule"],
        idle_rise_mk=thousandths(shop["idle_rise_k"]),
        waste_id_on_papers=shop["waste_id_on_papers"] or "",
        hours=shop["hours"],
        units_first=units_first,
    )


def _bay(shop: Shop, bay: dict[str, Any]) -> Bay:
    tenths = {
        name: None if bay[f"level_{name}_deg"] is None else thousandths(bay[f"level_{name}_deg"]) // 100
        for name in ("fore_aft", "side")
    }
    return Bay(
        shop=shop,
        name=bay["name"],
        kind=bay["kind"],
        rated_load_kg=bay["rated_load_kg"],
        inspection_due_on=day(bay["inspection_due"]),
        fore_aft_tenths_deg=tenths["fore_aft"],
        side_tenths_deg=tenths["side"],
        measured_on=day(bay["measured"]),
    )


def _instrument(shop: Shop, one: dict[str, Any]) -> Instrument:
    return Instrument(
        shop=shop,
        kind=one["kind"],
        serial=one["serial"],
        span_text=one["span"],
        step_text=one["step"],
        error_text=one["error"],
        checked_on=day(one["checked"]),
        next_check_on=day(one["next"]),
    )


def load_terms(tally: Tally, shops: Shops) -> None:
    """Every term with all its spans, the older rates too."""
    data, rules = scenario(), scenario()["rules"]
    business = next(iter(shops.values())).business
    tally.ensure(HouseRules, ("business", "from_on"), [_house_rules(business, rules)])
    bands = [
        {"above_cents": b["above_cents"], "markup_ppm": percent_ppm(b["markup_pct"])} for b in rules["markup_bands"]
    ]
    markup = MarkupTable(business=business, bands=bands, from_on=LONG_AGO, source=INVENTED)
    tally.ensure(MarkupTable, ("customer_group", "from_on"), [markup])
    tally.ensure(
        RateCard,
        ("shop", "from_on"),
        [
            RateCard(
                shop=shops[rate["shop"]],
                sold_per_hour_cents=rate["sold_cents_per_hour"],
                cost_per_hour_cents=rate["cost_cents_per_hour"],
                from_on=the_day(rate["from"]),
                source=INVENTED,
            )
            for rate in rules["rates"]
        ],
    )
    for shop in data["shops"]:
        _place_terms(tally, shops[shop["code"]], shop, rules)


def _house_rules(business: Business, rules: dict[str, Any]) -> HouseRules:
    severity = rules["severity"]
    return HouseRules(
        business=business,
        margin_floor_ppm=percent_ppm(rules["margin_floor_pct"]),
        quote_good_days=rules["quote_good_days"],
        reminder_lead_days=rules["reminder_lead_days"],
        second_look=rules["second_look"],
        distance_line_m=rules["distance_line_mi"] * MILE_MM // 1000,
        course_numbers=rules["course_templates"]["house"],
        included_work=included_work(),
        severity={
            "moisture_min_ppm": ppm(severity["moisture_min"]),
            "moisture_max_ppm": ppm(severity["moisture_max"]),
            "product_cap_ppm": ppm(severity["product_cap"]),
        },
        guarantee=rules["guarantee"],
        storage_terms=rules["storage_terms"],
        pay_period=rules["pay_period"],
        from_on=LONG_AGO,
        source=INVENTED,
    )


def _place_terms(tally: Tally, shop: Shop, place: dict[str, Any], rules: dict[str, Any]) -> None:
    def rule(kind: str, code: str) -> dict[str, Any]:
        return next(row for row in rules[kind] if row["code"] == code)

    dated = {"shop": shop, "from_on": LONG_AGO, "source": INVENTED}
    rates = [
        TaxRate(jurisdiction=who, rate_ppm=percent_ppm(rate), applies_to=place["tax_by_kind"], **dated)
        for who, rate in place["tax_parts"]
    ]
    tally.ensure(TaxRate, ("shop", "jurisdiction", "category", "from_on"), rates)
    over = rule("tolerance", place["tolerance_rule"])
    tolerance = ToleranceRule(
        code=over["code"],
        kind=over["kind"],
        percent_ppm=percent_ppm(over["percent"]) if "percent" in over else None,
        amount_cents=over.get("amount_cents"),
        cap_cents=over.get("cap_cents"),
        base=over["base"],
        words=over["words"],
        **dated,
    )
    tally.ensure(ToleranceRule, ("shop", "from_on"), [tolerance])
    small = rule("supplies", place["supplies_rule"])
    supplies = SuppliesRule(
        code=small["code"],
        kind=small["kind"],
        share_ppm=percent_ppm(small.get("share_pct", "0")),
        cap_cents=small.get("cap_cents"),
        sentence=small.get("sentence", ""),
        **dated,
    )
    tally.ensure(SuppliesRule, ("shop", "from_on"), [supplies])
    used = rule("waste", place["waste_rule"])
    waste = WasteRule(code=used["code"], kind=used["kind"], cents_per_liter=used["cents_per_liter"], **dated)
    tally.ensure(WasteRule, ("shop", "from_on"), [waste])


def load_staff(tally: Tally, shops: Shops) -> dict[str, Staff]:
    """The people by their initials, with roles and grants; who has left keeps the name and loses the roles."""
    people = scenario()["staff"]
    there = set(Staff.objects.values_list("sign_in", flat=True))
    new = [person for person in people if person["email"] not in there]
    # One hash for the phrase they share: hashing is slow on purpose, and this phrase opens the demonstration only.
    phrase = make_password(settings.DEMO_PHRASE) if new else ""
    rows = [_person(person, phrase, demo_pin(person["initials"])) for person in new]
    by_sign_in = tally.ensure(Staff, ("sign_in",), rows)
    staff = {person["initials"]: by_sign_in[(person["email"],)] for person in people}
    grants = [grant for person in people for grant in _grants(staff[person["initials"]], person, shops)]
    tally.ensure(RoleGrant, ("staff", "grant", "shop", "from_on"), grants)
    return staff


def demo_pin(initials: str) -> str:
    """The PIN of a person of the demonstration: two digits for each of the initials, A = 11."""
    return "".join(str(ord(letter) - ord("A") + 11) for letter in initials)


def _person(person: dict[str, Any], phrase: str, pin: str) -> Staff:
    left = day(person.get("left_on"))
    return Staff(
        sign_in=person["email"],
        name=person["name"],
        initials=person["initials"],
        email=person["email"],
        password="!" if left else phrase,
        pin_hash="" if left else make_password(pin),
        languages=["en"],
        paid_by=person.get("paid_by", ""),
        state="left" if left else "active",
        left_on=left,
    )


def _grants(staff: Staff, person: dict[str, Any], shops: Shops) -> list[RoleGrant]:
    rows = [
        RoleGrant(staff=staff, shop=shops[code], grant=person["role"], from_on=LONG_AGO) for code in person["shops"]
    ]
    if left := day(person.get("left_on")):
        rows += [
            RoleGrant(staff=staff, shop=shops[code], grant=person["role"], given=False, from_on=left)
            for code in person["shops"]
        ]
    rows += [
        RoleGrant(staff=staff, shop=shops[g["shop"]], grant=g["grant"], from_on=the_day(g["from"]))
        for g in person["grants"]
    ]
    return rows
