"""The ladder frame of a vehicle file: sections, joints and stations of its kind and entries.

Frames and sections are kept once made: candidates of a study that differ in mount, load or tank share them.
"""

from collections.abc import Mapping
from functools import lru_cache

from crossaxle.vehicles import built_up, open_sections, tubes
from crossaxle.vehicles.file import CrossMemberEntry
from crossaxle.vehicles.frame import CrossMember, Joint, LadderFrame, RailSpan, ladder_frame
from crossaxle.vehicles.frame_kinds import frame_kind
from crossaxle.vehicles.gravity import STEEL_DENSITY
from crossaxle.vehicles.layout import Layout
from crossaxle.vehicles.section_entries import (
    AnySection,
    BackToBackChannels,
    Channel,
    FlatBar,
    Hat,
    ISection,
    NestedChannels,
    PlatedChannel,
    RectangularTube,
    RoundTube,
    TableSection,
    ZSection,
)
from crossaxle.vehicles.sections import Section


@lru_cache(maxsize=256)
def section(entry: AnySection) -> Section:
    """Section properties of a file's entry.

    Raises
    ------
    ValueError
        If the dimensions make no section.
    """
    match entry:
        case Channel():
            return open_sections.channel(
                entry.height,
                entry.width,
                entry.thickness,
                flange_thickness=entry.flange_thickness,
                bend_radius=entry.bend_radius,
            )
        case Hat():
            return open_sections.hat(entry.height, entry.width, entry.lip, entry.thickness)
        case ZSection():
            return open_sections.z_section(entry.height, entry.width, entry.thickness)
        case ISection():
            return open_sections.i_section(entry.height, entry.width, entry.thickness, entry.flange_thickness)
        case RectangularTube():
            return tubes.rectangular_tube(entry.height, entry.width, entry.thickness)
        case RoundTube():
            return tubes.round_tube(entry.diameter, entry.thickness)
        case NestedChannels():
            return built_up.nested_channels(
                entry.height, entry.width, entry.thickness, entry.inner_width, entry.inner_thickness
            )
        case BackToBackChannels():
            return built_up.back_to_back_channels(entry.height, entry.width, entry.thickness)
        case PlatedChannel():
            return built_up.plated_channel(
                entry.height, entry.width, entry.thickness, entry.plate_height, entry.plate_thickness
            )
        case FlatBar():
            return tubes.flat(entry.height, entry.width)
        case TableSection():
            return Section(
                area=entry.area,
                second_moment_y=entry.second_moment,
                second_moment_z=entry.second_moment,
                torsion_constant=entry.torsion_constant,
                warping_constant=entry.warping_constant,
                shear_centre=entry.shear_centre,
                flange_height=entry.flange_height,
                section_modulus_y=entry.section_modulus,
                sectorial_coordinate=entry.sectorial_coordinate,
                shear_area_z=float("inf"),
            )


def joint(kind: str, factors: Mapping[str, float], entry: CrossMemberEntry, member: Section) -> Joint:
    """Joint of a cross-member: the frame kind's for its section, replaced by the entry's, stiffness times ``factors``.

    Raises
    ------
    ValueError
        If there is no such kind of frame.
    """
    preset = frame_kind(kind).joint(member)
    given = entry.joint.model_dump(exclude_none=True)
    stiffness = {
        name: factors.get(name, 1.0) * given.get(name, getattr(preset, name))
        for name in ("bending", "torsion", "warping", "gusset")
    }
    return Joint(**stiffness, overlap=given.get("overlap", preset.overlap))


def rail_spans(layout: Layout) -> list[RailSpan]:
    """The rails from front to rear, cut where a reinforcement begins or ends.

    Raises
    ------
    ValueError
        If a reinforcement leaves the frame, runs backwards or overlaps another.
    """
    frame = layout.file.frame
    here, rear = layout.references["frame front"], layout.references["frame rear"]
    base = section(frame.section)
    spans = []
    stretches = sorted(
        (layout.station(entry.start), layout.station(entry.end), name)
        for name, entry in frame.reinforcement.items()
    )
    for start, end, name in stretches:
        if not here <= start < end <= rear:
            raise ValueError(
                f"frame.reinforcement.{name}: found {start:.3g} m to {end:.3g} m behind the front axle; allowed a "
                f"stretch between {here:.3g} m (frame front or the reinforcement before) and {rear:.3g} m"
            )
        if start > here:
            spans.append(RailSpan(here, start, base))
        spans.append(RailSpan(start, end, section(frame.reinforcement[name].section)))
        here = end
    if here < rear:
        spans.append(RailSpan(here, rear, base))
    return spans


def ladder(layout: Layout) -> LadderFrame:
    """Assemble the truck's ladder frame.

    Raises
    ------
    ValueError
        If frame, sections or cross-members are impossible.
    """
    frame = layout.file.frame
    whole = frame.stiffness_factor
    joints = whole * frame.joint_factor
    factors = {
        "bending": joints,
        "torsion": joints * frame.joint_torsion_factor,
        "warping": joints * frame.joint_warping_factor,
        "gusset": joints * frame.joint_warping_factor,
    }
    members = _members(layout, "frame", frame.kind, factors, frame.cross_member)
    spans = tuple(rail_spans(layout))
    return _kept_frame(
        spans, members, frame.spacing, whole * frame.youngs_modulus, whole * frame.shear_modulus
    )


def mounting_ladder(layout: Layout) -> LadderFrame | None:
    """Assemble the mounting frame on top of the truck's own, if the file has one.

    Raises
    ------
    ValueError
        If it is impossible.
    """
    entry, frame = layout.file.mounting_frame, layout.file.frame
    if entry is None:
        return None
    span = RailSpan(layout.station(entry.front), layout.station(entry.rear), section(entry.section))
    members = _members(layout, "mounting_frame", entry.kind, {}, entry.cross_member)
    return _kept_frame((span,), members, frame.spacing, frame.youngs_modulus, frame.shear_modulus)


def _members(
    layout: Layout,
    key: str,
    kind: str,
    factors: Mapping[str, float],
    entries: Mapping[str, CrossMemberEntry],
) -> tuple[CrossMember, ...]:
    members = []
    for name, entry in entries.items():
        try:
            member = section(entry.section)
            members.append(CrossMember(layout.station(entry.at), member, joint(kind, factors, entry, member)))
        except ValueError as error:
            raise ValueError(f"{key}.cross_member.{name}: {error}") from error
    return tuple(members)


_kept_frame = lru_cache(maxsize=32)(ladder_frame)


def frame_mass(layout: Layout) -> float:
    """Mass of rails and cross-members, from the file or from their volume of steel [kg]."""
    frame = layout.file.frame
    if frame.mass is not None:
        return frame.mass
    rails = sum(2 * span.section.area * (span.end - span.start) for span in rail_spans(layout))
    members = sum(section(entry.section).area * frame.spacing for entry in frame.cross_member.values())
    return STEEL_DENSITY * (rails + members)
