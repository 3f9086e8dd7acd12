"""Wells, measuring points and gear of Marrow Fen: invented, every one."""

from __future__ import annotations

from typing import Any, NamedTuple

from tapedown.work.marrow_fen.model import Truth

NETWORK = {
    "name": "Marrow Fen",
    "length_unit": "ft",
    "vertical_datum": "NAVD88",
    "zone": "America/New_York",
    "remarks": "invented for demonstration",
}
ALDER, SEDGE, TEASEL = "R. Alder", "J. Sedge", "M. Teasel"


class FenWell(NamedTuple):
    """One well: its facts as a person would enter them, and the truth under it."""

    code: str
    name: str
    place: str
    point: dict[str, Any]
    land_surface: str
    latitude: str
    longitude: str
    construction: dict[str, Any]
    truth: Truth
    access: str = ""


def _point(height: str, side: str, description: str, **more: Any) -> dict[str, Any]:
    return {"name": "MP-1", "height": height, "side": side, "description": description, **more}


def _screened(depth: str, top: str, bottom: str, diameter: str = "4 in") -> dict[str, Any]:
    return {
        "completed_depth": depth,
        "casings": [{"top": "0 ft", "bottom": top, "inside_diameter": diameter, "material": "PVC"}],
        "screens": [{"top": top, "bottom": bottom, "inside_diameter": diameter, "material": "PVC, 0.010 in slot"}],
        "source": "driller's log",
    }


PLACES: tuple[FenWell, ...] = (
    FenWell("MF-01", "Sluice House", "behind the sluice keeper's house, left of the gate",
          _point("2.10 ft", "above", "notch in the casing, north side"), "41.26 ft",
          "43.10212 deg", "-76.31874 deg",
          _screened("62.0 ft", "48.0 ft", "58.0 ft"), Truth(18.6, 1.4, 0.06, 0.25, 62.0)),
    FenWell("MF-02", "Alder Carr", "200 m along the carr path, in the willow stand",
          _point("3.40 ft", "above", "paint mark on the steel casing, north side"), "39.84 ft",
          "43.09958 deg", "-76.32611 deg",
          _screened("82.1 ft", "70.0 ft", "80.0 ft"), Truth(10.2, 1.1, 0.02, 0.2, 82.1, 0.62)),
    FenWell("MF-03", "Peat Cutters", "deep hole at the old peat railway",
          _point("3.12 ft", "above", "file cut in the flange, east side"), "44.07 ft",
          "43.09127 deg", "-76.30342 deg",
          {"completed_depth": "781.5 ft", "hole_depth": "790 ft", "lean": "3.2 deg", "u_lean": "0.2 deg",
           "screens": [{"top": "720 ft", "bottom": "776 ft", "material": "steel, wire-wrapped"}],
           "source": "driller's log; angle by single-shot survey"},
          Truth(212.4, 2.5, 0.35, 0.4, 782.4)),
    FenWell("MF-04", "Heron Drove", "verge of the drove, 30 paces past the bridge",
          _point("2.85 ft", "above", "notch in the casing, road side"), "40.51 ft",
          "43.09583 deg", "-76.31155 deg",
          _screened("55.0 ft", "40.0 ft", "50.0 ft"), Truth(14.1, 1.3, 0.0, 0.2, 55.0),
          access="verge of a road: vest, cone, lookout"),
    FenWell("MF-05", "Long Dyke", "steel box on the dyke crest",
          _point("1.95 ft", "above", "rim of the inner pipe, mark on the south side"), "43.90 ft",
          "43.10634 deg", "-76.30987 deg",
          _screened("70.0 ft", "55.0 ft", "65.0 ft"), Truth(21.7, 0.9, 0.05, 0.2, 70.0)),
    FenWell("MF-06", "Spring Farm", "farm yard, under the blue cover",
          _point("1.75 ft", "above", "top of the valve flange"), "33.15 ft",
          "43.11046 deg", "-76.32208 deg",
          _screened("140.0 ft", "120.0 ft", "135.0 ft", "6 in"), Truth(-4.1, 0.8, 0.03, 0.15, 140.0),
          access="flows under pressure: stand clear, open the valve slowly"),
    FenWell("MF-07", "Dry Lode", "field corner at the dry lode",
          _point("1.20 ft", "below", "rim of the pipe in the sunken box, brass tack"), "38.70 ft",
          "43.08871 deg", "-76.31766 deg",
          _screened("19.5 ft", "9.5 ft", "19.0 ft", "2 in"), Truth(18.0, 3.2, 0.05, 0.3, 19.5),
          access="sunken box: check for gas and wasps, do not climb in"),
    FenWell("MF-08", "Depot Yard", "fuel depot, well nearest the old tanks",
          _point("0.45 ft", "below", "notch in the PVC, below the cover"), "42.33 ft",
          "43.09344 deg", "-76.29618 deg",
          _screened("25.0 ft", "5.0 ft", "25.0 ft"), Truth(9.0, 0.9, 0.0, 0.15, 25.0),
          access="last of the round: oil on the water"),
    FenWell("MF-09", "Mill Pumping", "pump house at the mill",
          _point("1.10 ft", "above", "edge of the access hole in the base plate"), "45.62 ft",
          "43.10419 deg", "-76.29803 deg",
          _screened("210.0 ft", "160.0 ft", "205.0 ft", "12 in"), Truth(84.8, 1.5, 0.3, 0.4, 210.0),
          access="pump starts by itself: the keeper locks it out"),
    FenWell("MF-10", "Church Nest shallow", "churchyard, west pipe of two",
          _point("2.62 ft", "above", "notch, west pipe"), "46.18 ft",
          "43.10003 deg", "-76.30551 deg",
          _screened("30.0 ft", "20.0 ft", "29.0 ft", "2 in"), Truth(11.2, 1.6, 0.02, 0.25, 30.0)),
    FenWell("MF-11", "Church Nest deep", "churchyard, east pipe of two",
          _point("2.55 ft", "above", "notch, east pipe"), "46.18 ft",
          "43.10001 deg", "-76.30547 deg",
          _screened("95.0 ft", "80.0 ft", "94.0 ft", "2 in"), Truth(15.9, 1.0, 0.04, 0.2, 95.0)),
    FenWell("MF-12", "Old Turbine", "inside the fence of the old wind pump",
          _point("1.50 ft", "above", "chisel cut in the plate"), "48.95 ft",
          "43.08655 deg", "-76.32873 deg",
          _screened("160.0 ft", "120.0 ft", "155.0 ft", "6 in"), Truth(96.5, 1.2, 0.15, 0.3, 160.0)),
)  # fmt: skip

GEAR: tuple[tuple[str, dict[str, Any]], ...] = (
    ("ST-014", {"type": "steel tape", "length": "300 ft", "graduation": "0.01 ft",
                "description": "steel tape on a reel, black figures"}),
    ("ST-020", {"type": "steel tape", "length": "1000 ft", "graduation": "0.01 ft", "area": "0.006 in2",
                "mass_per_length": "2.04 lb/100 ft", "modulus": "29000000 psi", "expansion": "0.00000645 /degF",
                "density": "490 lb/ft3", "standard_temp": "68 degF", "standard_pull": "10 lbf",
                "support": "throughout", "description": "long steel tape with certificate"}),
    ("W-03", {"type": "weight", "mass": "1.2 lb", "weight_interval": "1.20 ft", "description": "brass, 1.2 lb"}),
    ("W-05", {"type": "weight", "mass": "4.0 lb", "weight_interval": "1.36 ft", "description": "stainless, 4 lb"}),
    ("ET-006", {"type": "electric tape", "length": "500 ft", "description": "electric tape, yellow jacket"}),
    ("PG-011", {"type": "gauge", "description": "pressure gauge, 0 to 15 psi", "range": "15 psi"}),
    ("LG-031", {"type": "logger", "description": "vented logger on a 60 ft cable"}),
    ("LG-044", {"type": "logger", "description": "absolute logger on a wire"}),
    ("BR-002", {"type": "barometer", "description": "barometer in the pump house"}),
)  # fmt: skip

CALIBRATIONS: tuple[tuple[str, str, dict[str, Any], range], ...] = (
    ("ST-014", "02-03", {
        "against": "reference tape RT-001, in the office yard", "apply": "checked",
        "marks": [{"shown": "50.00 ft", "true": "50.00 ft"}, {"shown": "100.00 ft", "true": "100.01 ft"},
                  {"shown": "200.00 ft", "true": "200.01 ft"}]}, range(2020, 2026)),
    ("ST-020", "02-02", {
        "against": "certificate 21-0417, laid straight", "apply": "between marks",
        "marks": [{"shown": "250.00 ft", "true": "250.004 ft", "u": "0.003 ft"},
                  {"shown": "500.00 ft", "true": "500.011 ft", "u": "0.004 ft"},
                  {"shown": "1000.00 ft", "true": "1000.019 ft", "u": "0.006 ft"}]}, range(2020, 2026, 2)),
    ("ET-006", "02-04", {
        "against": "steel tape ST-014 in four wells", "apply": "straight line",
        "marks": [{"shown": "20.01 ft", "true": "20.00 ft"}, {"shown": "60.04 ft", "true": "60.00 ft"},
                  {"shown": "100.06 ft", "true": "100.00 ft"}, {"shown": "240.15 ft", "true": "240.00 ft"}]},
     range(2020, 2026)),
)  # fmt: skip
