//! A survey in words and as JSON.

use filmgauge_footage::{FaultKind, FrameIndex, StampSteps, Survey, nearly_repeated};
use filmgauge_quantities::FrameNumber;
use serde_json::json;
use std::io::Write;

/// Steps of time and frame numbers that are shown one by one in words; JSON has them all.
const MOST_SHOWN: usize = 6;

pub(super) fn as_json(name: &str, survey: &Survey, index: &FrameIndex) -> serde_json::Value {
    let info = &survey.info;
    let steps = StampSteps::of(&survey.frames);
    let count = |kind| n_frames_of(survey, kind);
    json!({
        "footage": name,
        "files": index.head.identity.files,
        "bytes": index.head.identity.bytes,
        "blake3": index.head.identity.blake3,
        "frames": survey.frames.len(),
        "width_px": info.width,
        "height_px": info.height,
        "bits": info.bits,
        "container": info.container,
        "codec": info.codec,
        "pixel_format": info.pixel_format,
        "grey_from": info.luma.words(),
        "full_range": info.full_range,
        "turn_deg": info.turn_deg,
        "mirrored": info.mirrored,
        "pixel_aspect": info.pixel_aspect,
        "stated_fields": info.stated_fields,
        "playback_rate_only": info.container_rate,
        "declared_frames": info.declared_frames,
        "first_stamp_s": survey.frames.first().and_then(|frame| frame.stamp).map(|stamp| stamp.as_s()),
        "last_stamp_s": survey.frames.last().and_then(|frame| frame.stamp).map(|stamp| stamp.as_s()),
        "tick_s": index.head.tick.map(|tick| tick.tick_s()),
        "stamp_steps": steps.histogram.iter().map(|(ticks, n)| json!({ "ticks": ticks, "n": n })).collect::<Vec<_>>(),
        "dropped": steps.dropped.iter().map(|(frame, n)| json!({ "before_frame": frame.0, "n": n })).collect::<Vec<_>>(),
        "repeated_frames": count(FaultKind::RepeatedPicture),
        "nearly_repeated": nearly_repeated(&survey.frames).iter().map(|frame| frame.0).collect::<Vec<_>>(),
        "key_frames": survey.frames.iter().filter(|frame| frame.key).count(),
        "damaged_frames": survey.frames.iter().filter(|frame| frame.damaged).count(),
        "hidden_by_edit_list": survey.n_hidden,
        "faults": survey.faults.iter().map(|fault| fault.text.clone()).collect::<Vec<_>>(),
    })
}

pub(super) fn print(
    name: &str,
    survey: &Survey,
    index: &FrameIndex,
    out: &mut dyn Write,
) -> std::io::Result<()> {
    let (info, identity) = (&survey.info, &index.head.identity);
    writeln!(out, "{name}")?;
    let mut line = |title: &str, text: String| writeln!(out, "  {title:<14} {text}");
    line("frames", survey.frames.len().to_string())?;
    line(
        "size",
        match identity.files {
            1 => format!("{} bytes", identity.bytes),
            n => format!("{} bytes in {n} files", identity.bytes),
        },
    )?;
    line("picture", format!("{} x {} px, {} bit", info.width, info.height, info.bits))?;
    line("stored as", format!("{}, {}, {}", info.container, info.codec, info.pixel_format))?;
    line("grey from", info.luma.words().to_owned())?;
    line("range", range(info.full_range).to_owned())?;
    line("for viewing", viewing(survey))?;
    line(
        "pixels",
        info.pixel_aspect
            .map_or("shape not stated".to_owned(), |ratio| format!("{ratio:.4} as wide as high")),
    )?;
    line("pictures", pictures(survey).to_owned())?;
    if let Some(rate) = info.container_rate {
        line("playback rate", format!("{rate:.3} frames/s: for playing only, not the film speed"))?;
    }
    for (title, text) in stamps(survey) {
        line(title, text)?;
    }
    line("repeated", repeated(survey))?;
    line("damaged", survey.frames.iter().filter(|frame| frame.damaged).count().to_string())?;
    line("edit list", format!("hides {} pictures", survey.n_hidden))?;
    line("key frames", survey.frames.iter().filter(|frame| frame.key).count().to_string())?;
    if survey.faults.is_empty() {
        line("faults", "none".to_owned())?;
    }
    for fault in &survey.faults {
        line("fault", fault.text.clone())?;
        line("", fault.kind.remedy().to_owned())?;
    }
    Ok(())
}

fn range(full_range: Option<bool>) -> &'static str {
    match full_range {
        Some(true) => "full",
        Some(false) => "limited: black and white lie inside the scale; levels are taken as stored",
        None => "not stated; levels are taken as stored",
    }
}

fn viewing(survey: &Survey) -> String {
    let turned = match survey.info.turn_deg {
        Some(angle) if angle != 0.0 => format!("to be turned {angle:.0} deg clockwise; measured as stored"),
        _ => "as stored".to_owned(),
    };
    if survey.info.mirrored { format!("mirrored, {turned}") } else { turned }
}

fn pictures(survey: &Survey) -> &'static str {
    if survey.info.stated_fields.is_some() { "two fields each, exposed one after the other" } else { "whole" }
}

/// First and last stamp, and how often each step occurs, the commonest first.
fn stamps(survey: &Survey) -> Vec<(&'static str, String)> {
    let stamps = survey.frames.iter().filter_map(|frame| frame.stamp).collect::<Vec<_>>();
    let (Some(first), Some(last)) = (stamps.first(), stamps.last()) else {
        return vec![("time stamps", "none".to_owned())];
    };
    let steps = StampSteps::of(&survey.frames);
    let mut by_count: Vec<(i64, u64)> = steps.histogram.iter().map(|(ticks, n)| (*ticks, *n)).collect();
    by_count.sort_by_key(|(ticks, n)| (std::cmp::Reverse(*n), *ticks));
    let mut shown: Vec<String> =
        by_count.iter().take(MOST_SHOWN).map(|(ticks, n)| format!("{ticks} ({n})")).collect();
    if by_count.len() > MOST_SHOWN {
        shown.push(format!("{} others", by_count.len() - MOST_SHOWN));
    }
    let dropped: Vec<FrameNumber> = steps.dropped.iter().map(|(frame, _)| *frame).collect();
    vec![
        ("time stamps", format!("{:.6} s to {:.6} s", first.as_s(), last.as_s())),
        ("steps", format!("{} ticks (times) of {:.9} s", shown.join(", "), first.scale.tick_s())),
        ("dropped", format!("{}{}", steps.n_dropped(), places(", before", &dropped))),
    ]
}

fn repeated(survey: &Survey) -> String {
    let nearly = nearly_repeated(&survey.frames);
    let equal = n_frames_of(survey, FaultKind::RepeatedPicture);
    format!("{equal} equal to the frame before, {} nearly{}", nearly.len(), places(": frames", &nearly))
}

/// The first few numbers of a list.
fn places(title: &str, frames: &[FrameNumber]) -> String {
    if frames.is_empty() {
        return String::new();
    }
    let shown: Vec<String> = frames.iter().take(MOST_SHOWN).map(ToString::to_string).collect();
    let more = if frames.len() > MOST_SHOWN { " …" } else { "" };
    format!("{title} {}{more}", shown.join(", "))
}

fn n_frames_of(survey: &Survey, kind: FaultKind) -> u64 {
    survey.faults.iter().filter(|fault| fault.kind == kind).map(|fault| u64::from(fault.n_frames)).sum()
}
