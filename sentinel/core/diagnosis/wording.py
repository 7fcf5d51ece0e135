"""The sentence behind each cause."""

from __future__ import annotations

from sentinel.core.diagnosis.causes import Cause, Sign


def sentence(cause: Cause, ink: str | None, sign: Sign | None, size: float) -> str:
    """`size` is the departure in ΔE00 where it shows most."""
    more = sign == 1
    inks = f"ink {ink}" if ink else "all inks"
    told = {
        Cause.SOLID: f"{inks} {'stronger' if more else 'weaker'} than in the aim, by up to ΔE00 {size:.1f}",
        Cause.TONE: f"the tones of {inks} {'heavier' if more else 'lighter'} by up to ΔE00 {size:.1f}, solids in place",
        Cause.NOT_DRY: f"all inks darker together, by up to ΔE00 {size:.1f}, as on a print that has not dried",
        Cause.SHADE: f"the paper moved by ΔE00 {size:.1f}, and all that lies on it moved along",
        Cause.SCALE: f"all patches {'lighter' if more else 'darker'} by one factor, paper by ΔE00 {size:.1f}",
        Cause.MODE: f"{'more' if more else 'less'} light of a brightener, paper by ΔE00 {size:.1f}: light patches "
        "differ as between M0, M1 and M2",
    }
    return told.get(cause, f"mean ΔE00 {size:.1f} in a way that no cause known here makes")
