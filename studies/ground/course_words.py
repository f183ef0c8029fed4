"""What `crossaxle.studies.ground.course_description` found about a course, in words for a reader at a terminal."""

from collections.abc import Mapping
from typing import Any

from crossaxle.studies.base.number_format import number, tick


def ground_words(found: Mapping[str, Any]) -> str:
    """Write a course's description (`describe_ground`) as text.

    Parameters
    ----------
    found : mapping
        Units stand in its keys.
    """
    lines = [found["course"]]
    for name, section in found["sections"].items():
        lines += [
            "",
            f"{name}: {tick(100 * section['share'])} % of the way",
            *_roughness(section["roughness"], found["laid"]),
        ]
        lines += [f"  {part}" for part in (_slopes(section), _obstacles(section), *_survey(section)) if part]
    lines += ["", *_laid(found["laid"])]
    lines += ["", *(f"warning: {text}" for text in found["warnings"])] if found["warnings"] else []
    return "\n".join(lines)


def _roughness(rough: Mapping[str, Any] | None, laid: Mapping[str, Any]) -> list[str]:
    if rough is None:
        return []
    wave = f"waviness {rough['waviness']:g}"
    if rough["waviness_above"] is not None:
        wave += f" below and {rough['waviness_above']:g} above {tick(rough['break_cycle_per_m'])} cycle/m"
    low, high = rough["band_cycle_per_m"]
    return [
        f"  roughness: class {rough['iso_class']}, {number(rough['density_at_0.1_cycle_per_m_m3'])} m3 at 0.1 cycle/m; "
        f"{wave}; {tick(low)} to {tick(high)} cycle/m, which is waves of {number(1 / high)} to {number(1 / low)} m",
        f"  both tracks: {rough['coherence']}",
        f"  standard deviations: height {number(1e3 * rough['height_std_m'])} mm, slope "
        f"{number(100 * rough['slope_std'])} %, cross-level {number(rough['cross_level_std_deg'])} deg, warp "
        f"{number(rough['warp_std_deg'])} deg over a wheelbase of {laid['wheelbase_m']:g} m and a track of "
        f"{laid['track_m']:g} m",
        f"  rises through its mean {number(1e3 * rough['height_zero_upcrossings_per_m'])} times per km",
    ]


def _slopes(section: Mapping[str, Any]) -> str:
    words = []
    for name, slope in (("grade", section["grade_deg"]), ("side slope", section["side_slope_deg"])):
        if slope["mean"] or slope["std"]:
            words.append(f"{name} {tick(slope['mean'])} deg, varying by {tick(slope['std'])} deg")
    return "; ".join(words)


def _obstacles(section: Mapping[str, Any]) -> str:
    rates = section["obstacles_per_km"]
    return f"obstacles per km: {_counts(rates)}" if rates else ""


def _survey(section: Mapping[str, Any]) -> list[str]:
    words = []
    if (survey := section.get("survey")) is not None:
        words.append(
            f"as surveyed: {number(survey['length_m'])} m, a point every {number(survey['spacing_m'])} m"
        )
    if (fit := section.get("fit")) is not None:
        off = ", ".join(f"{model} {number(misfit, 2)}" for model, misfit in fit["coherence_misfit"].items())
        words.append(
            f"fitted to a survey: spectrum within {number(fit['misfit_dB'])} dB, R squared {number(fit['r_squared'])}; "
            f"misfit of coherence models: {off}; the survey's kurtosis {number(fit['kurtosis'])}"
        )
    return words


def _laid(laid: Mapping[str, Any]) -> list[str]:
    shares = [f"{100 * float(share):g} %" for share in laid["warp_deg"]]
    twists = [number(value) for value in laid["warp_deg"].values()]
    heights = [number(1e3 * value) for value in laid["pedestal_height_m"].values()]
    lines = [
        f"Laid at random: {tick(1e-3 * laid['distance_m'])} km (seed {laid['seed']}), felt by tyres of "
        f"{laid['tyre_radius_m']:g} m radius and {laid['contact_length_m']:g} m contact",
        f"  standard deviations: height {number(1e3 * laid['height_std_m'])} mm, "
        f"warp {number(laid['warp_std_deg'])} deg",
        f"  on this share of the way           {''.join(f'{text:>9}' for text in shares)}",
        f"  warp is at most                [deg]{''.join(f'{text:>9}' for text in twists)}",
        f"  as height under two wheels      [mm]{''.join(f'{text:>9}' for text in heights)}",
        f"  largest warp: {number(laid['warp_largest_deg'])} deg",
    ]
    if laid["obstacles"]:
        lines.append(f"  obstacles met: {_counts(laid['obstacles'])}")
    return lines


def _counts(counts: Mapping[str, float]) -> str:
    return ", ".join(f"{tick(count)} {kind.replace('_', ' ')}" for kind, count in counts.items())
