"""What the help says: a day in eight steps, the words of the shop, the keys."""

from __future__ import annotations

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

Said = str | Promise

DAY: list[tuple[Said, str, Said]] = [  # what, address, how
    (
        _("Find or take in"),
        "records:find",
        _(
            "One box finds by plate, end of the VIN, name or phone. Take the vehicle in with its "
            "odometer and the six questions; a lower odometer is asked about before it is kept."
        ),
    ),
    (
        _("Plan"),
        "counter:desk",
        _(
            "Say how the unit is known. The plan shows the fluid course stage by stage, what bars a "
            "method, the packages, what is left over; what nobody knows stays a band up to the price."
        ),
    ),
    (
        _("Quote"),
        "counter:desk",
        _(
            "One to four options side by side: every line, the total, what it earns in miles and "
            "months. Offer it by link and on paper. A change makes a new version; the earlier one "
            "stays as it was offered."
        ),
    ),
    (
        _("Authorize"),
        "counter:desk",
        _(
            "The customer says yes to one option by the link, or you record who said yes, when, how "
            "and to which words. Without it no work begins; beyond its tolerance nothing can be "
            "invoiced."
        ),
    ),
    (
        _("Fluid ahead"),
        "records:fluid_ahead",
        _(
            "Count whole and opened packages, and the page says job by job whether they reach for what was agreed; if "
            "not, for which vehicle and by which day to order. The count is kept in the address alone: there is no "
            "stock record."
        ),
    ),
    (
        _("Bay sheet"),
        "bay:line",
        _(
            "One step a page, its cautions at the step, figures by plus and minus keys. Coolant found"
            " stops the fluid work at once. A figure without unit that makes sense only in another is "
            "asked for it. A full package that is weighed checks the scale. The procedure sheet is the "
            "same on paper."
        ),
    ),
    (
        _("Close-out and second look"),
        "bay:looks",
        _(
            "Level with its error budget and the largest share named, what went in against what came out "
            "with its band and what may have happened where they do not agree, what was not done and "
            "why. Then another person looks, as the house rule wants."
        ),
    ),
    (
        _("Invoice"),
        "counter:desk",
        _(
            "The next number of the series, tax once a rate, frozen when it is issued. Invoice and "
            "procedure sheet come as PDF; asked for again they are the same file."
        ),
    ),
    (
        _("Reminder"),
        "office:due_soon",
        _(
            "Each service renews the forecast. Due soon lists who should come by the likely day; mark"
            " the lines and plan. A letter leaves once, and only where the owner permits reminders; a"
            " sale or a visit stops it."
        ),
    ),
]

GLOSSARY: list[tuple[Said, Said]] = [
    (_("unit"), _("The automatic transmission of a vehicle. The unit sheet holds its values, each with its source.")),
    (
        _("identification"),
        _("How we know which unit a vehicle has: from the tag, from the VIN, by looks, or not at all."),
    ),
    (_("fluid course"), _("The stages of a method in order: what goes out, what goes in, the level after each.")),
    (_("stage"), _("One act of the course. It stops by weight or liters, never by air in the line.")),
    (
        _("band"),
        _("Low and high of a figure that is not known exactly. It is hatched, and carried through to the end."),
    ),
    (
        _("sum"),
        _(
            "A slanted figure is computed; its “=” opens the sum: what goes in and where it comes from, formula, "
            "steps, sources, and what would change it most. It prints, and there is the same as JSON."
        ),
    ),
    (_("share of new fluid"), _("A figure of the model, never measured on this transmission.")),
    (_("package"), _("Jug, bottle or drum. Whole ones are planned; what is left over is said beforehand.")),
    (_("visit"), _("The stay of a vehicle, from taking in to going home.")),
    (_("finding"), _("Something seen that bars a method, asks for a decision, or stops the work.")),
    (
        _("quote, version, option"),
        _("A quote has versions; a version on offer never changes. Its options stand side by side."),
    ),
    (_("authorization"), _("The customer's yes to one option, with who, when, how and the amount.")),
    (_("tolerance"), _("How far an invoice may go beyond the agreed total, by the rule of the place.")),
    (_("room left"), _("What of the authorization is not used yet, and whether more work still fits.")),
    (
        _("work order"),
        _("The authorized work, with its bay sheet. It is cleared, begun, held, closed out, looked over."),
    ),
    (_("level window"), _("The temperatures between which the level may be set; both ends belong to it.")),
    (_("close-out"), _("What was done and what was not, the level and the balance of fluid, before the second look.")),
    (_("second look"), _("Another person looks at the finished work; the house rule says at which.")),
    (_("logbook"), _("All that is known of a vehicle over the years: readings, services, papers.")),
    (
        _("two clocks"),
        _(
            "Distance and months. Both factors shorten the distance, moisture alone the months; the "
            "earlier clock governs."
        ),
    ),
    (
        _("likely, early, late"),
        _("The day a vehicle is due at the rate it was driven, and the days if it is driven more or less."),
    ),
    (
        _("severity"),
        _(
            "How hard a life is on the fluid: moisture from the air of its home, short trips and storage; heat from"
            " the temperatures of the sump. Estimated until a laboratory has looked or a log was taken."
        ),
    ),
    (_("crossing rate"), _("The distance a day at which both clocks end together; driven less, the months govern.")),
    (_("permission"), _("The newest word of the owner about an address and a purpose: status, reminder, offer.")),
    (_("trail"), _("Who did what when, on which thing; one entry a deed, sealed, never changed.")),
]

KEYS: list[tuple[str, Said]] = [
    ("/", _("to the find field")),
    ("Enter", _("the main act of the page, outside fields")),
    ("Esc", _("out of a field, then one step back")),
    ("↑ ↓", _("along the lines of a list, as j and k")),
    ("f", _("on a quote sheet the fluid course of the option that we recommend")),
    ("+ −", _("in an amount of a fluid course a tenth more or less; with Alt, ↑ ↓ move its stage")),
    (_("space"), _("mark the line")),  # type: ignore[list-item]
]
