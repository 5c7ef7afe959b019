"""Clean cuts before anything is computed from them: repair invalid ones, make a sheet for them."""

import re

import numpy as np
import shapely
from shapely import MultiLineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from hingeleaf.geometry.members import SPECK, lines_of, slits_of, windows_of
from hingeleaf.model import NO_LINES, NO_WINDOWS, XY, Cuts, Finding, Severity

_PLACE = re.compile(r"\[(\S+) (\S+)\]")


def clean(cuts: Cuts) -> tuple[Cuts, tuple[Finding, ...]]:
    """The same cuts without self-crossings, overlaps, NaN and zero areas, and findings about these.

    Windows that overlap or share an edge are merged; the stretch of a slit inside a window is
    dropped, since there is no paper to cut.
    """
    findings: list[Finding] = []
    windows = cuts.windows
    if not windows.is_valid:
        windows = _repair(windows, findings)
    slits = cuts.slits
    if not slits.is_empty:
        slits = _paper_slits(slits, windows, findings)
    if windows is cuts.windows and slits is cuts.slits:
        return cuts, ()
    return Cuts(windows, slits, cuts.folds), tuple(findings)


def sheet_around(cuts: Cuts) -> Polygon:
    """A rectangle around the cuts; its margin is their longest side, and at least 10 mm."""
    bounds = shapely.total_bounds(np.array([cuts.windows, cuts.slits], dtype=object))
    if not np.isfinite(bounds).all():
        return shapely.box(-10.0, -10.0, 10.0, 10.0)
    west, north, east, south = bounds
    margin = max(10.0, east - west, south - north)
    return shapely.box(west - margin, north - margin, east + margin, south + margin)


def _repair(windows: MultiPolygon, findings: list[Finding]) -> MultiPolygon:
    sound: list[BaseGeometry] = []
    for window in shapely.get_parts(windows):
        if not np.isfinite(shapely.get_coordinates(window)).all():
            findings.append(
                Finding("broken-window", Severity.FAULT, "A window has no finite outline.")
            )
        elif window.is_valid:
            sound.append(window)
        else:
            findings.append(_broken(window))
            sound.append(_valid_area(window))
    merged = windows_of(shapely.union_all(sound)) if sound else NO_WINDOWS
    if not findings:
        findings.append(
            Finding(
                "overlapping-windows",
                Severity.NOTE,
                "Windows overlap or share an edge; they were joined.",
                invalid_at(windows),
            )
        )
    return merged


def _valid_area(window: Polygon) -> BaseGeometry:
    return shapely.make_valid(window, method="structure", keep_collapsed=False)


def _broken(window: Polygon) -> Finding:
    at = invalid_at(window)
    if _valid_area(window).area <= SPECK:
        return Finding("empty-window", Severity.CAUTION, "A window has no area.", at)
    return Finding(
        "self-crossing",
        Severity.CAUTION,
        "A window's outline crosses or touches itself.",
        at,
        "Redraw the outline without crossings if the cut is not what you expect.",
    )


def invalid_at(geometry: BaseGeometry) -> XY | None:
    """The point at which GEOS finds a geometry invalid."""
    match = _PLACE.search(str(shapely.is_valid_reason(geometry)))
    return (float(match[1]), float(match[2])) if match else None


def _paper_slits(
    slits: MultiLineString, windows: MultiPolygon, findings: list[Finding]
) -> MultiLineString:
    """The stretches of slits that have a length and paper to cut."""
    slits = _sound_slits(slits, findings)
    if slits.is_empty or windows.is_empty or not shapely.intersects(slits, windows):
        return slits
    idle = shapely.intersection(slits, windows)
    if idle.length <= SPECK:
        return slits
    place = lines_of(idle)[0].interpolate(0.5, normalized=True)
    findings.append(
        Finding(
            "slit-in-window",
            Severity.NOTE,
            "A slit runs through a window, where there is no paper to cut.",
            (place.x, place.y),
        )
    )
    return slits_of(shapely.difference(slits, windows))


def _sound_slits(slits: MultiLineString, findings: list[Finding]) -> MultiLineString:
    lines = shapely.get_parts(slits)
    sound = np.array([np.isfinite(shapely.get_coordinates(line)).all() for line in lines])
    sound &= shapely.length(lines) > SPECK
    if sound.all():
        return slits
    gone = shapely.get_coordinates(lines[~sound])
    at = gone[np.isfinite(gone).all(axis=1)][:1]
    findings.append(
        Finding(
            "empty-slit",
            Severity.CAUTION,
            "A slit has no length.",
            (float(at[0, 0]), float(at[0, 1])) if len(at) else None,
        )
    )
    return MultiLineString(list(lines[sound])) if sound.any() else NO_LINES
