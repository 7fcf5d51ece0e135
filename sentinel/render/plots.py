"""The picture of a notice: how the figures went, and the patches that are farthest off. Facts in, PNG out.

matplotlib costs some 45 MB and half a second at its first use, so only the service loads it, beside its start.
"""

from __future__ import annotations

import io
import warnings
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any, NamedTuple
from zoneinfo import ZoneInfo

from sentinel.core.message import Message, msg
from sentinel.render.localizer import IN_ENGLISH, CldrLocalizer

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Facts = Mapping[str, Any]

WIDTH_INCHES, DOTS_PER_INCH = 6.0, 150
"""900 dots across: text of 11 points stays readable where a phone shows them on 6 cm."""
TREND_INCHES, PATCH_INCHES, MARGIN_INCHES = 2.6, 0.5, 1.0

LINE, LIMIT = "#0072B2", {"warn": "#E69F00", "act": "#D55E00"}
"""Colours that people of every colour vision tell apart: M. Okabe and K. Ito, 'Color Universal Design' (2008)."""
DASHES = {"warn": (0, (5, 3)), "act": "solid"}

FIGURES = (("mean", msg("mean ΔE00, all patches")), ("max", msg("maximum ΔE00, all patches")))
LIMIT_WORDS = {"warn": msg("warn {limit:g} ΔE00"), "act": msg("act {limit:g} ΔE00")}
LAST = msg("last {figure:.2f} ΔE00")
FARTHEST = msg("Patches farthest off (as far as a screen can show them)")
AIM, READ = msg("aim"), msg("read")

LEAST_POINTS = 2
LONGEST_NAME = 18


class _Trend(NamedTuple):
    """One figure over time, and its limits by name."""

    words: Message
    times: Sequence[datetime]
    values: Sequence[float]
    limits: Mapping[str, float]


def drawable(facts: Facts) -> bool:
    """Whether these facts hold anything to draw."""
    check = facts.get("check")
    if not isinstance(check, Mapping):
        return False
    return len(check.get("trend") or ()) >= LEAST_POINTS or bool(check.get("worst"))


def picture(facts: Facts, localizer: CldrLocalizer = IN_ENGLISH) -> bytes:
    """A PNG of the last checks against their limits, and of the worst patches, aim beside reading.

    For one thread at a time: matplotlib is not made for several.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    trends, worst = _trends(facts), facts["check"].get("worst") or []
    heights = [*(TREND_INCHES for _ in trends), *([PATCH_INCHES * len(worst) + MARGIN_INCHES] if worst else [])]
    figure = Figure(figsize=(WIDTH_INCHES, sum(heights)), dpi=DOTS_PER_INCH, layout="constrained")
    canvas = FigureCanvasAgg(figure)
    panels = figure.subplots(len(heights), 1, height_ratios=heights, squeeze=False)[:, 0]
    for panel, trend in zip(panels, trends, strict=False):
        _draw_trend(panel, trend, localizer)
    if worst:
        _draw_patches(panels[-1], worst, localizer)
    _name(figure, facts)
    kept = io.BytesIO()
    warnings.filterwarnings("ignore", "Glyph .* missing", UserWarning)
    canvas.print_png(kept, metadata={"Software": None})  # type: ignore[no-untyped-call]  # `savefig` draws it twice
    return kept.getvalue()


def _trends(facts: Facts) -> list[_Trend]:
    check, zone = facts["check"], ZoneInfo(facts.get("timezone", "UTC"))
    points = check.get("trend") or []
    if len(points) < LEAST_POINTS:
        return []
    times = [datetime.fromisoformat(point["measured_at"]).astimezone(zone) for point in points]
    limits = (check.get("limits") or {}).get("all", {})
    return [
        _Trend(words, times, [point[name] for point in points], _limits(limits.get(f"de00_{name}")))
        for name, words in FIGURES
    ]


def _limits(numbers: Sequence[float] | None) -> dict[str, float]:
    return {} if numbers is None else {"warn": numbers[0], "act": numbers[1]}


def _draw_trend(panel: Axes, trend: _Trend, localizer: CldrLocalizer) -> None:
    from matplotlib.dates import AutoDateLocator, num2date

    zone = trend.times[0].tzinfo
    panel.plot(trend.times, trend.values, color=LINE, marker="o", markersize=5, linewidth=1.8)  # type: ignore[arg-type]
    for name, limit in trend.limits.items():
        panel.axhline(limit, color=LIMIT[name], linestyle=DASHES[name], linewidth=1.6)
        panel.annotate(
            localizer.text(LIMIT_WORDS[name].format(limit=limit)), (1, limit), (4, 0),
            xycoords=("axes fraction", "data"),
            textcoords="offset points", va="center", fontsize=11, color=LIMIT[name],
        )  # fmt: skip
    panel.set_ylim(0, 1.2 * (max(*trend.values, *trend.limits.values()) or 1.0))
    panel.set_ylabel("ΔE00", fontsize=11)
    panel.set_title(localizer.text(trend.words), fontsize=12, loc="left")
    panel.set_title(localizer.text(LAST.format(figure=trend.values[-1])), fontsize=12, fontweight="bold", loc="right")
    locator = AutoDateLocator(tz=zone, minticks=3, maxticks=6)  # type: ignore[no-untyped-call]
    panel.xaxis.set_major_locator(locator)
    long = trend.times[-1] - trend.times[0] > timedelta(days=2)
    panel.xaxis.set_major_formatter(lambda at, _: _moment(num2date(at, zone), long, localizer))  # type: ignore[no-untyped-call]
    panel.yaxis.set_major_formatter(lambda figure, _: localizer.number(round(figure, 6), "g"))
    panel.tick_params(labelsize=11)
    panel.grid(visible=True, color="#d9d9d9", linewidth=0.7)
    panel.spines[["top", "right"]].set_visible(False)


def _moment(time: datetime, by_days: bool, localizer: CldrLocalizer) -> str:
    return localizer.short_day(time.date()) if by_days else f"{time:%H:%M}"


def _draw_patches(panel: Axes, worst: Sequence[Facts], localizer: CldrLocalizer) -> None:
    """A row a patch: its name, the aim's colour beside that of the reading, and how far they are apart."""
    from matplotlib.patches import Rectangle

    for row, patch in enumerate(worst):
        for left, side in ((0.0, "aim"), (1.0, "read")):
            panel.add_patch(Rectangle((left, row + 0.06), 1.0, 0.88, facecolor=_screen(patch[side]), edgecolor="none"))
        name = patch["patch"] if len(patch["patch"]) <= LONGEST_NAME else f"{patch['patch'][:LONGEST_NAME]}…"
        panel.text(-0.06, row + 0.5, name, ha="right", va="center", fontsize=12, parse_math=False)
        panel.text(2.06, row + 0.5, localizer.number(patch["de00"], ".2f"), va="center", fontsize=12)
    for left, word in ((0.5, AIM), (1.5, READ)):
        panel.text(left, -0.12, localizer.text(word), ha="center", va="bottom", fontsize=11)
    panel.text(2.06, -0.12, "ΔE00", va="bottom", fontsize=11)
    panel.set_xlim(-1.2, 2.6)
    panel.set_ylim(len(worst), -0.6)
    panel.set_title(localizer.text(FARTHEST), fontsize=12, loc="left")
    panel.set_axis_off()


def _screen(lab: Sequence[float]) -> tuple[float, ...]:
    import numpy as np

    from sentinel.core.colour.lab import srgb_from_lab

    return tuple(srgb_from_lab(np.array(lab, dtype=float)).tolist())


def _name(figure: Figure, facts: Facts) -> None:
    parts = [facts.get("printer"), facts.get("substrate"), facts.get("mode")]
    words = " / ".join(str(part) for part in parts if part)
    figure.suptitle(words[:60], fontsize=13, fontweight="bold", parse_math=False)
