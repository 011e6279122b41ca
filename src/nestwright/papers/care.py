"""The care sheet: two pages for a buyer, in their language; as PDF, in large print, or as one page for a phone."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from html import escape
from typing import Any

from nestwright.climate.results import WindowMap
from nestwright.papers.care_content import Care, care_values
from nestwright.papers.marks import N_
from nestwright.papers.names import limit_name
from nestwright.papers.stand_picture import stand_svg
from nestwright.papers.words import decimal, words_of
from nestwright.press.setting import readable, set_paper, shown_svg

__all__ = ["STYLE", "care_html", "care_pdf", "care_sheet"]

LEAST = 0.005
"""Water, g a day, under which a block is told to use next to none."""
LARGE = 1.45
"""Large print: 15 pt and more."""


def care_sheet(care: Care, window: WindowMap, language: str = "en") -> dict[str, Any]:
    """The sheet as headings, lines and tables, in a language. Raises InputError for one that is not there."""
    _ = words_of(language).gettext
    return {
        "lang": language,
        "title": _("Care sheet: {habitat}").format(habitat=care.habitat),
        "lead": _lead(care, _),
        "footer": _("{habitat}, revision {revision}").format(habitat=care.habitat, revision=care.revision or "?"),
        "where": _where(care, window, language, _),
        "water": {"title": _("Water and warmth"), "lines": _water(care, language, _)},
        "feed": _feed(care, language, _),
        "grow": {"title": _("As the garden grows"), "lines": _grow(care, language, _)},
        "signs": {
            "title": _("What you see, and what to do"),
            "head": [_("you see"), _("do")],
            "rows": [[_(row[0]).format(places=", ".join(care.wet)), _(row[1])] for row in _signs(care)],
        },
        "safe": {
            "title": _("Take care"),
            "lines": [
                *(_(told).format(openings=", ".join(names)) for told, names in _through(care) if names),
                *(_(one) for one in SAFE if care.heater is not None or one is not MAINS),
            ],
        },
        "rests": _rests(care, _),
    }


def care_pdf(care: Care, window: WindowMap, made: date, language: str = "en", *, large: bool = False) -> bytes:
    """The sheet as PDF; large print takes more pages."""
    return set_paper("care", care_sheet(care, window, language) | {"scale": LARGE if large else 1.0}, made)


def care_html(care: Care, window: WindowMap, language: str = "en") -> str:
    """The sheet as one page without a script or a second file, for a phone."""
    told = care_sheet(care, window, language)

    def text(value: object) -> str:
        return escape(readable(value))

    def table(part: dict[str, Any]) -> str:
        head = "".join(f'<th scope="col">{text(h)}</th>' for h in part["head"])
        rows = "".join("<tr>" + "".join(f"<td>{text(c)}</td>" for c in row) + "</tr>" for row in part["rows"])
        return f"<table><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>"

    def lines(part: dict[str, Any]) -> str:
        return "".join(f"<p>{text(line)}</p>" for line in part["lines"])

    where, picture = told["where"], told["where"]["picture"]
    body = [
        f"<h1>{text(told['title'])}</h1><p>{text(told['lead'])}</p>",
        f'<h2>{text(where["title"])}</h2><figure role="img" aria-label="{text(picture["alt"])}">'
        f"{shown_svg(picture['svg']).replace('Libertinus Serif', 'system-ui')}</figure>{lines(where)}",
        f"<h2>{text(told['water']['title'])}</h2>{lines(told['water'])}",
        f'<h2>{text(told["feed"]["title"])}</h2>{table(told["feed"])}<p class="small">{text(told["feed"]["note"])}</p>',
        f"<h2>{text(told['grow']['title'])}</h2>{lines(told['grow'])}",
        f"<h2>{text(told['signs']['title'])}</h2>{table(told['signs'])}",
        f"<h2>{text(told['safe']['title'])}</h2><ul>"
        + "".join(f"<li>{text(line)}</li>" for line in told["safe"]["lines"])
        + "</ul>",
        "".join(f'<p class="small">{text(line)}</p>' for line in told["rests"]),
    ]
    return (
        f'<!doctype html><html lang="{told["lang"]}"><head><meta charset="utf-8">'
        f'<meta name="viewport" content="width=device-width, initial-scale=1"><title>{text(told["title"])}</title>'
        f"<style>{STYLE}</style></head><body><main>{''.join(body)}</main></body></html>"
    )


STYLE = (
    ":root{color-scheme:light dark}body{margin:0;font:1.12rem/1.5 Georgia,serif;background:Canvas;color:CanvasText}"
    ""
    "main{max-width:40rem;margin:auto;padding:1rem}h1{font-size:1.7rem;line-height:1.2}h2{margin-top:1.8rem;font-size:1.3rem}"
    "figure{margin:0;background:#fff;padding:.4rem;border-radius:.3rem}figure svg{width:100%;height:auto}"
    "table{border-collapse:collapse;width:100%}th,td{text-align:start;vertical-align:top;padding:.4rem .6rem .4rem 0;"
    "border-bottom:1px solid #8886}li{margin:.5rem 0}.small{font-size:.9rem;opacity:.85}"
    "@media print{body{font-size:11pt}}"
)

Say = Callable[[str], str]


def _lead(care: Care, _: Say) -> str:
    name = _("For the build {serial}. ").format(serial=care.serial) if care.serial else ""
    return name + _("It is a home for {species}, an ant that lives on a fungus it grows. Keep the fungus well, and the "
                    "ants are well.").format(species=care.species)  # fmt: skip


def _figure(value: float, language: str, decimals: int = 0) -> str:
    return decimal(f"{value:.{decimals}f}", language)


def _where(care: Care, window: WindowMap, language: str, _: Say) -> dict[str, Any]:
    lines = []
    for s in care.stands:
        humidity = _figure(100 * s.humidity, language)
        if s.low is None or s.high is None:
            lines.append(_("At {humidity} % humidity in the room: nowhere.").format(humidity=humidity))
            continue
        low, high = _figure(s.low, language, 1), _figure(s.high, language, 1)
        if low == high:
            lines.append(_("At {humidity} % humidity in the room: about {t} °C.").format(humidity=humidity, t=low))
        else:
            told = _("At {humidity} % humidity in the room: {low} to {high} °C.")
            lines.append(told.format(humidity=humidity, low=low, high=high))
    own = _("Your room, {t} °C and {h} %: ").format(
        t=_figure(care.room_temperature, language, 1), h=_figure(100 * care.room_humidity, language)
    )
    if care.only_just:
        told = _("it may stand there, but only just. What fails first when something changes: {limit}.")
        lines.append(own + told.format(limit=limit_name(care.only_just, _)))
    elif care.holds:
        lines.append(own + _("it may stand there."))
    else:
        lines.append(own + _("not there. What fails first: {limit}.").format(limit=limit_name(care.first_limit, _)))
    if not any(s.low is not None for s in care.stands):
        lines.append(_("By this design's own proof there is no such room on the map: ask its builder."))
    lines.append(
        _("Never in the sun, over a radiator, in a draught, or where it freezes: none of this is in the sums.")
    )
    picture = stand_svg(
        window,
        (care.room_temperature, care.room_humidity),
        (_("room temperature, °C"), _("room humidity, %"), _("your room")),
    )
    alt = _("Field of room temperatures and humidities; the filled part is where the habitat may stand.")
    return {"title": _("Where it may stand"), "lines": lines, "picture": {"svg": picture, "alt": alt}}


def _water(care: Care, language: str, _: Say) -> list[str]:
    lines = []
    if not care.water or care.store <= 0:
        lines.append(_("It has no water of its own to fill."))
    for humidity, rate, days in care.water if care.store > 0 else ():
        room = _figure(100 * humidity, language)
        used = _figure(rate, language, 1 if rate >= 0.1 else 2)
        if days is None or rate < LEAST:
            lines.append(_("Room at {h} %: uses next to no water; look at it every 30 days.").format(h=room))
        else:
            lines.append(
                _("Room at {h} %: uses {g} g a day; fill it at least every {days} days.").format(
                    h=room, g=used, days=_figure(_told_days(days), language)
                )
            )
    if care.store > 0:
        lines.append(
            _("Full, it holds {g} g. Use soft or distilled water. The days above leave a third in "
              "reserve and are never "
              "more than 30.").format(g=_figure(care.store, language))
        )  # fmt: skip
    if care.heater is None:
        lines.append(_("It has no heater."))
    else:
        at = "" if care.set_point is None else _(", set to {t} °C").format(t=_figure(care.set_point, language, 1))
        lines.append(
            _("Its heater{at} gives {w} W on the average in your room.").format(
                at=at, w=_figure(care.heater, language, 1)
            )
        )
    return lines


def _told_days(days: float) -> float:
    """Days between fillings that are told, with a reserve."""
    v = care_values()
    return max(1.0, min(days * v["fill_share"].value, v["fill_most"].value))


def _feed(care: Care, language: str, _: Say) -> dict[str, Any]:
    rows = [
        [f"{_figure(v, language)} mL", f"{_figure(low, language, 1)} – {_figure(high, language, 1)} g"]
        for v, low, middle, high in care.leaves
    ]
    return {
        "title": _("Leaves"),
        "head": [_("garden"), _("fresh leaves a day")],
        "rows": rows,
        "note": _("A hen's egg is about 50 mL. These ranges rest on judgement: give what they carry "
                  "in within a day, and take "
                  "away what they leave. Only plants that were never sprayed."),
    }  # fmt: skip


def _grow(care: Care, language: str, _: Say) -> list[str]:
    full = _figure(100 * care.fill_high, language)
    lines = []
    if care.bells:
        lines.append(_("Change the bell when the garden fills {full} % of the room under it.").format(full=full))
        sizes = ", ".join(f"{_figure(b, language)} mL" for b in care.bells)
        lines.append(
            _("Bells that belong to it: {sizes}. A larger one is asked for at the builder.").format(sizes=sizes)
        )
    else:
        lines.append(_("It has no bell: the garden has the whole chamber."))
        lines.append(_("A further chamber is wanted when the garden fills {full} % of it.").format(full=full))
    if care.full is not None:
        lines.append(
            _("For {colony}, 8 in 10 forecasts reach that between {a} and {b}.").format(
                colony=care.colony, a=_date(care.full[0], language), b=_date(care.full[1], language)
            )
        )
    elif care.colony:
        lines.append(
            _(
                "For {colony} no date can be told: its record is too short or too old, or its forecast looks less far."
            ).format(colony=care.colony)
        )
    else:
        lines.append(_("No date can be told here: no colony's forecast was given."))
    return lines


def _through(care: Care) -> tuple[tuple[str, tuple[str, ...]], ...]:
    return (PASSED, care.lets_through), (MAY_PASS, care.may_let_through)


def _signs(care: Care) -> list[tuple[str, str]]:
    """What is seen and what to do, as this design allows it."""
    rows = [row for row in SIGNS if care.dump or row is not WASTE]
    drops = DROPS if care.opens else DROPS_DRILLED
    return [(DROPS_SEEN if care.wet else drops[0], drops[1]) if row is DROPS else row for row in rows]


def _date(day: date, language: str) -> str:
    from babel.dates import format_date

    return str(format_date(day, format="long", locale=language))


def _rests(care: Care, _: Say) -> list[str]:
    lines = [
        _("All figures are computed for this design and hold for a quiet room with these means; "
          "edges of the field are good to "
          "one step of it. They do not replace watching."),
    ]  # fmt: skip
    if care.judgements:
        lines.append(
            _("{n} of the figures behind it rest on judgement, not on measurement; the builder can name them.").format(
                n=len(care.judgements)
            )
        )
    return lines


PASSED = N_(
    "As this design is drawn, the smallest workers get through the openings of: {openings}. Let no ants in before the "
    "builder has closed them with a finer mesh."
)
MAY_PASS = N_(
    "Some of the smallest workers may get through the openings of: {openings}. Look for ants outside every day, and "
    "ask the builder for a finer mesh."
)
WASTE = (N_("Waste is piled near the garden"), N_("Empty the dump chamber; wear gloves, and wash your hands."))
MAINS = N_(
    "Electric parts and water are close together: use only the supply that came with it, behind "
    "a residual current device, and unplug "
    "before you fill or clean. Do not cover the heater."
)
DROPS = (
    N_("Drops on the wall or the garden"),
    N_("More air: take a plug out of a vent; warm the room slowly. No drop may stand on the garden."),
)
DROPS_SEEN = N_("Drops over the garden or on it. A thin film on walls is as computed for this design, in: {places}")
DROPS_DRILLED = (
    DROPS[0],
    N_(
        "Warm the room slowly and wipe the drops off. Its vents are of one size and cannot be opened further: if drops "
        "come again, ask the builder. No drop may stand on the garden."
    ),
)
SIGNS = (
    (N_("The garden is grey-white and soft, ants on it everywhere"), N_("Nothing: that is well.")),
    DROPS,
    (
        N_("The garden shrinks or turns brown"),
        N_("Check water and temperature. Give fresh tender leaves. Tell the builder, with a picture."),
    ),
    (
        N_("Green or black mould"),
        N_("Take mouldy leaves and waste out with a clean tool. If it is on the garden, tell the builder at once."),
    ),
    (
        N_("Ants gather far from the garden, or carry it about"),
        N_("It is too warm, too dry or too wet where it stands. Read temperature and humidity."),
    ),
    (N_("Leaves are left lying"), N_("Fewer leaves, another plant. Take old ones away each day.")),
    WASTE,
)
SAFE = (
    MAINS,
    N_(
        "The ants must not escape. Close every lid and plug, and look at the barrier each week. "
        "Never set them free, nor throw living "
        "garden or waste away: freeze it for three days first."
    ),
    N_(
        "Leafcutting ants are plant pests outside their home. Keeping, moving, giving away or "
        "selling them may need a permit where you live: "
        "ask the plant health authority. This sheet gives none."
    ),
    N_("Do not post it without the builder's packing. Out of reach of small children."),
)
