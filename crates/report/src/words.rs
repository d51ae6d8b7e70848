//! Every fixed text that people read on the sheet and in the listing, in one place.

use filmgauge_results::Severity;

/// Cautions that go with every figure. Shown in full on the sheet, in the README and wherever findings are shown.
pub const CAUTIONS: &[&str] = &[
    "The figures support the judgement of a qualified test engineer. They do not certify a device or a vehicle.",
    "The governing test standard, local codes and the accredited laboratory's procedures prevail over this sheet.",
    "Limits quoted are for orientation only: check them in the edition of the standard that is in force.",
    "People keep out of the test area and follow the site's own safety rules for vehicles, flash and high-speed cameras.",
];

/// What ± means, under the table of findings.
pub(crate) const INTERVAL_NOTE: &str = "± is the half-width of the 95 % interval, 1.96 standard uncertainties. \
     Values are rounded to two significant digits of it.";

/// What the shares mean, under the error budgets.
pub(crate) const BUDGET_NOTE: &str = "Each share is that line's part of the variance. Lines add in quadrature, \
     so halving the largest helps most.";

/// How to read the diagrams.
pub(crate) const CURVES_NOTE: &str = "Film is drawn solid, sensors dashed. A band is the 95 % interval. \
     A break in a line is a gap: nothing was measured there.";

/// How to read the picture strip.
pub(crate) const STRIP_NOTE: &str = "Rings are marks as measured in that frame. \
     The bar holds in the plane of the reference board only; nearer things look larger.";

/// What the table of events shows.
pub(crate) const EVENTS_NOTE: &str = "Instants from time zero with the half-width of their 95 % interval. \
     One that a person saw in a frame may lie anywhere within that frame's time.";

/// How to read the table of film against sensors.
pub(crate) const CROSSCHECK_NOTE: &str = "A sound channel has a gain of 1, no offset and no lag. \
     Agreement is the difference left over, divided by its expected spread: about 1 when film and channel tell the same.";

/// What the table of marks shows.
pub(crate) const MARKS_NOTE: &str =
    "Frames with a mark, by how it came about, and the stretches of frames without one.";

/// What provenance is for.
pub(crate) const PROVENANCE_NOTE: &str =
    "The same inputs, settings and version give the same results, byte for byte.";

/// Who signs.
pub(crate) const SIGNATURES: &[&str] = &["Measured by", "Checked by", "Released by"];

/// What a signature stands for.
pub(crate) const SIGNATURES_NOTE: &str = "A signature stands for the sheet as a whole, with its cautions and notices. \
     It is void when a page is missing.";

/// A finding's title for people; the name itself, with spaces, when it is not one of ours.
pub(crate) fn finding_title(name: &str) -> String {
    let title = match name {
        "contact_time" => "Time of contact",
        "contact_speed" => "Speed at contact",
        "delta_v" => "Change of speed, delta-v",
        "pitch_up_max" => "Greatest pitch, nose up",
        "pitch_up_max_time" => "Time of greatest pitch, nose up",
        "climb_max" => "Greatest climb",
        "crush_max" => "Greatest crush",
        "crush_max_time" => "Time of greatest crush",
        "crush_final" => "Crush at the end of the film",
        "cushion_stroke_max" => "Greatest cushion stroke",
        "peak_speed" => "Greatest speed",
        "push_distance" => "Distance pushed",
        "rebound_speed" => "Rebound speed",
        "closing_speed" => "Closing speed",
        "contact_angle" => "Angle of the run-up, to the left",
        "lateral_offset" => "Lateral offset at contact, to the left",
        "common_speed" => "Common speed",
        "common_speed_time" => "Time of common speed",
        "separation_time" => "Time of parting",
        "restitution" => "Restitution",
        "deceleration_peak" => "Greatest deceleration",
        "deceleration_10ms" => "Greatest 10 ms mean deceleration",
        "deceleration_50ms" => "Greatest 50 ms mean deceleration",
        "acceleration_peak" => "Greatest acceleration",
        "acceleration_10ms" => "Greatest 10 ms mean acceleration",
        "acceleration_50ms" => "Greatest 50 ms mean acceleration",
        "pitch_down_max" => "Greatest pitch, nose down",
        "pitch_down_max_time" => "Time of greatest pitch, nose down",
        "ramp_angle" => "Ramping angle",
        "cushion_stroke_max_time" => "Time of greatest cushion stroke",
        "rest_distance" => "Distance from contact to rest",
        "push_heading" => "Heading of the push, to the left",
        "momentum_closure" => "Momentum received over given, less 1",
        "drag_force" => "Drag on the ground",
        "absorbed_energy" => "Energy absorbed up to the common speed",
        "energy_closure" => "Energy left over, as a share of that absorbed",
        "crush_mean" => "Mean crush, C1 to C6",
        "crush_area" => "Crushed area",
        "crush_centroid_depth" => "Depth of the crush centroid",
        "crush_centroid_place" => "Crush centroid from C1",
        "crush_energy" => "Crush energy",
        "crush_barrier_speed" => "Barrier speed of the crush energy",
        "occupant_impact_velocity" => "Occupant impact velocity",
        "occupant_impact_time" => "Time of occupant impact",
        "ridedown_acceleration" => "Ridedown acceleration",
        "occupant_impact_velocity_sideways" => "Occupant impact velocity, sideways",
        "ridedown_acceleration_sideways" => "Ridedown acceleration, sideways",
        "occupant_impact_velocity_alone" => "Occupant impact velocity, forward alone",
        "occupant_impact_velocity_sideways_alone" => "Occupant impact velocity, sideways alone",
        "head_impact_velocity" => "Theoretical head impact velocity",
        "head_impact_time" => "Time of theoretical head impact",
        "head_deceleration" => "Head deceleration after impact",
        "severity_index" => "Acceleration severity index",
        "mean_10ms" => "Greatest mean over 10 ms, forward",
        "mean_10ms_sideways" => "Greatest mean over 10 ms, left",
        "mean_10ms_upright" => "Greatest mean over 10 ms, up",
        "mean_50ms" => "Greatest mean over 50 ms, forward",
        "mean_50ms_sideways" => "Greatest mean over 50 ms, left",
        "mean_50ms_upright" => "Greatest mean over 50 ms, up",
        "speed_change" => "Speed change along the path",
        "resultant_max" => "Greatest resultant acceleration",
        "crosscheck_gain" => "Channel's gain against film",
        "crosscheck_offset" => "Channel's offset against film",
        "crosscheck_lag" => "Channel later than film",
        other => return spaced(other),
    };
    title.to_owned()
}

fn spaced(name: &str) -> String {
    let mut letters = name.replace('_', " ").chars().collect::<Vec<_>>();
    if let Some(first) = letters.first_mut() {
        first.make_ascii_uppercase();
    }
    letters.into_iter().collect()
}

/// The axis system in words.
pub(crate) fn axes_text(axes: &str) -> String {
    match axes {
        "iso8855" => "ISO 8855: x forward, y left, z up".to_owned(),
        "sae_j1733" => "SAE J1733: x forward, y right, z down".to_owned(),
        "" => "not stated".to_owned(),
        other => other.to_owned(),
    }
}

/// A sign that tells severities apart without colour; one letter.
#[must_use]
pub fn severity_sign(severity: Severity) -> &'static str {
    match severity {
        Severity::Note => "·",
        Severity::Warning => "!",
        Severity::Person => "▶",
    }
}
