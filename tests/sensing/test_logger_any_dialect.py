"""Readings written in any mixture of separator, decimal mark, date order, language, unit and zone come back equal."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from nestwright.sensing.loggers import read_readings, recognise

HEADERS = {
    "en": ("Date", "Time", "Temperature", "Relative Humidity", "Pressure"),
    "de": ("Datum", "Uhrzeit", "Lufttemperatur", "rel. Luftfeuchtigkeit", "Luftdruck"),
    "fr": ("Date", "Heure", "Température", "Humidité relative", "Pression"),
    "es": ("Fecha", "Hora", "Temperatura", "Humedad relativa", "Presión"),
    "it": ("Data", "Ora", "Temperatura", "Umidità relativa", "Pressione"),
    "nl": ("Datum", "Tijd", "Temperatuur", "Luchtvochtigheid", "Luchtdruk"),
    "pt": ("Data", "Hora", "Temperatura", "Umidade relativa", "Pressão"),
    "pl": ("Data", "Czas", "Temperatura", "Wilgotność względna", "Ciśnienie"),
    "sv": ("Datum", "Tid", "Temperatur", "Luftfuktighet", "Lufttryck"),
    "cs": ("Datum", "Čas", "Teplota", "Vlhkost", "Tlak"),
}
SEPARATORS = {"comma": ",", "semicolon": ";", "tab": "\t", "pipe": "|"}
DATES = {"ymd": ("%Y-%m-%d", "%Y/%m/%d"), "dmy": ("%d.%m.%Y", "%d/%m/%Y", "%d-%m-%Y"), "mdy": ("%m/%d/%Y", "%m-%d-%Y")}
CLOCKS = ("%H:%M:%S", "%H:%M", "%I:%M:%S %p", "%I:%M %p")
ZONES = ("UTC", "Europe/Berlin", "America/New_York", "Asia/Kolkata", "Australia/Lord_Howe", "UTC-03:30")
WRITE = {
    "degC": lambda t: (t, 2), "degF": lambda t: (t * 9 / 5 + 32, 2), "K": lambda t: (t + 273.15, 2),
}  # fmt: skip
LABEL = {"degC": "°C", "degF": "°F", "K": "K", "%": "%", "fraction": "0-1", "hPa": "hPa", "kPa": "kPa"}
TOLERANCE = {"degC": 0.0051, "degF": 0.0029, "K": 0.0051}


@st.composite
def dialects(draw):
    """A file's text and bytes, its true readings and how it was written."""
    separator = draw(st.sampled_from(sorted(SEPARATORS)))
    decimal = draw(st.sampled_from(".,"))
    language = draw(st.sampled_from(sorted(HEADERS)))
    encoding = draw(
        st.sampled_from(("utf-8", "utf-8-sig", "utf-16") if language in ("pl", "cs") else ("utf-8", "utf-16", "cp1252"))
    )
    order = draw(st.sampled_from(sorted(DATES)))
    date_form, clock_form = draw(st.sampled_from(DATES[order])), draw(st.sampled_from(CLOCKS))
    zone = draw(st.sampled_from(ZONES))
    unit, humid, pressing = (
        draw(st.sampled_from(u)) for u in (("degC", "degF", "K"), ("%", "fraction"), ("hPa", "kPa"))
    )
    one_column, quoted = draw(st.booleans()), draw(st.booleans()) or (separator == "comma" and decimal == ",")
    # a start on the 13th or later tells day from month
    start = datetime(draw(st.integers(2001, 2060)), draw(st.integers(1, 12)), draw(st.integers(14, 27)), tzinfo=UTC)
    start += timedelta(minutes=draw(st.integers(0, 300)))
    step = timedelta(minutes=draw(st.sampled_from((1, 5, 10, 60))))
    count = draw(st.integers(3, 12))
    reals = st.integers(-2000, 4500), st.integers(101, 1000), st.integers(9000, 10700)
    values = [tuple(draw(r) for r in reals) for _ in range(count)]
    names = HEADERS[language]
    times = (f"{names[0]} {names[1]}",) if one_column else names[:2]
    header = [*times, f"{names[2]} [{LABEL[unit]}]", f"{names[3]} ({LABEL[humid]})", f"{names[4]} ({LABEL[pressing]})"]
    tz = ZoneInfo(zone) if "UTC-" not in zone else ZoneInfo("UTC")
    shift = timedelta(hours=3.5) if "UTC-" in zone else timedelta()
    rows, truth = [], []
    for k, (t, h, p) in enumerate(values):
        utc = start + k * step
        local = (utc - shift).astimezone(tz)
        assume(local.replace(fold=0).utcoffset() == local.replace(fold=1).utcoffset())  # summer time has its own tests
        when = [local.strftime(date_form), local.strftime(clock_form)]
        numbers = (
            f"{WRITE[unit](t / 100)[0]:.2f}",
            f"{h / 10:.1f}" if humid == "%" else f"{h / 1000:.3f}",
            f"{p / 10:.1f}" if pressing == "hPa" else f"{p / 100:.2f}",
        )
        rows.append([*([" ".join(when)] if one_column else when), *(n.replace(".", decimal) for n in numbers)])
        truth.append((round(utc.timestamp() * 1000), t / 100, h / 10, p / 10))
    quote = '"{}"' if quoted else "{}"
    text = "".join(
        SEPARATORS[separator].join(quote.format(c) for c in row) + "\r\n" for row in [header, *rows]
    )  # fmt: skip
    above = draw(st.sampled_from(("", "Kammer 4\r\n\r\n", "# a remark\r\n")))
    return (above + text).encode(encoding), truth, zone, (separator, decimal, order, [unit, humid, pressing])


@settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
@given(dialects())
def test_written_and_read_back(tmp_path_factory, made):
    data, truth, zone, (separator, decimal, order, units) = made
    path = tmp_path_factory.getbasetemp() / "dialect.csv"
    path.write_bytes(data)
    mapping = recognise(path, zone)
    assert (mapping.separator, mapping.decimal, mapping.order) == (separator, decimal, order)
    assert [c.unit for c in mapping.columns] == units
    readings = read_readings(path, mapping)
    assert not readings.faults
    assert [c.quantity for c in readings.channels] == ["temperature", "humidity", "pressure"]
    tolerances = (TOLERANCE[units[0]], 1e-9, 1e-9)
    for k, (channel, tolerance) in enumerate(zip(readings.channels, tolerances, strict=True), start=1):
        assert channel.time.tolist() == [row[0] for row in truth]
        assert channel.value == pytest.approx([row[k] for row in truth], abs=tolerance)
