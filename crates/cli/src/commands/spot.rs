//! `spot`: finds targets in one frame, says which of a layout they seem to be, and patches of natural texture that can be
//! followed.

use crate::exit::Exit;
use crate::watch::stop_flag;
use anyhow::{Context, bail, ensure};
use filmgauge_dossier::{LayoutFit, NamedSpot, named_spots, read_layout};
use filmgauge_footage::ReadOptions;
use filmgauge_quantities::{GreyImage, GreyView, TargetKind};
use filmgauge_targets::{SpotOptions, TextureSpot, TextureSpotOptions};
use serde_json::json;
use std::io::Write;
use std::path::Path;
use std::sync::atomic::Ordering;

/// Kinds that can be found by their painted pattern.
const KINDS: [TargetKind; 4] = [TargetKind::Quadrant, TargetKind::Cross, TargetKind::Disc, TargetKind::Ring];
/// A frame whose darkest and brightest pixels lie within this share of full scale shows nothing.
const LEAST_RANGE_SHARE: f32 = 0.03;

/// What was asked for, as typed.
pub(super) struct Wanted<'a> {
    pub(super) frame: u32,
    pub(super) kinds: &'a str,
    pub(super) radius_px: &'a str,
    pub(super) patches: usize,
    pub(super) layout: Option<&'a Path>,
}

impl Wanted<'_> {
    fn options(&self) -> anyhow::Result<SpotOptions> {
        let kind = |word: &str| {
            let known = KINDS.into_iter().find(|kind| kind.word() == word.trim());
            known.with_context(|| {
                format!("--kinds: {word} is no kind that can be found; use quadrant, cross, disc, ring")
            })
        };
        let kinds = self.kinds.split(',').map(kind).collect::<anyhow::Result<Vec<_>>>()?;
        let rule = || format!("--radius-px: {} is no range; write it as 6..80", self.radius_px);
        let (least, greatest) = self.radius_px.split_once("..").with_context(rule)?;
        let number = |text: &str| text.trim().parse::<f64>().with_context(rule);
        Ok(SpotOptions {
            kinds,
            least_radius_px: number(least)?,
            greatest_radius_px: number(greatest)?,
            ..SpotOptions::default()
        })
    }
}

pub(super) fn spot(footage: &str, wanted: &Wanted, json: bool, out: &mut dyn Write) -> anyhow::Result<Exit> {
    let options = wanted.options()?;
    options.check()?;
    let layout = wanted.layout.map(read_layout).transpose()?;
    let picture = picture(footage, wanted.frame)?;
    let view = picture.view();
    check_levels(&view, footage, wanted.frame)?;
    let (spots, fit) = match &layout {
        Some(layout) => {
            let named = named_spots(&view, &options, layout)?;
            (named.spots, Some(named.fit))
        }
        None => {
            let spots = filmgauge_targets::spot(&view, &options)?;
            (spots.into_iter().map(|spot| NamedSpot { spot, id: None }).collect(), None)
        }
    };
    let patches = if wanted.patches > 0 {
        let options = TextureSpotOptions { most: wanted.patches, ..TextureSpotOptions::default() };
        filmgauge_targets::texture_spots(&view, &options)?
    } else {
        Vec::new()
    };
    if json {
        let patches = patches.iter().map(patch_as_json);
        let list = spots.iter().map(|spot| as_json(spot, fit.as_ref())).chain(patches).collect::<Vec<_>>();
        writeln!(out, "{}", serde_json::to_string_pretty(&list)?)?;
    } else {
        print(&spots, layout.is_some(), out)?;
        print_patches(&patches, out)?;
        if let (Some(fit), Some(layout)) = (&fit, &layout) {
            print_fit(fit, layout.targets.len(), out)?;
        }
    }
    let is_empty = spots.is_empty() && patches.is_empty();
    Ok(Exit::person_if(is_empty || fit.is_some_and(|fit| fit.is_err())))
}

fn picture(footage: &str, frame: u32) -> anyhow::Result<GreyImage> {
    let mut reader = filmgauge_footage::open(Path::new("."), footage, &ReadOptions::default())?;
    let stop = stop_flag();
    let mut seen = 0;
    loop {
        if stop.load(Ordering::SeqCst) {
            bail!("stopped on request");
        }
        let found = reader.next_frame()?.with_context(|| {
            format!("{footage} ends after {seen} frames; there is no frame {frame}. Ask for an earlier one")
        })?;
        if found.number.0 == frame {
            return Ok(found.picture);
        }
        seen += 1;
    }
}

/// Says so where a frame is of one level and cannot show anything.
fn check_levels(view: &GreyView, footage: &str, frame: u32) -> anyhow::Result<()> {
    let (mut low, mut high) = (f32::INFINITY, 0.0_f32);
    for y in 0..view.height() {
        for level in (0..view.width()).filter_map(|x| view.get(x, y)) {
            low = low.min(level);
            high = high.max(level);
        }
    }
    let full = view.full_scale();
    let what = if low >= 0.98 * full { "wholly saturated" } else { "of one level" };
    ensure!(
        high - low > LEAST_RANGE_SHARE * full,
        "frame {frame} of {footage} is {what} ({low:.0} to {high:.0} of {full:.0}); ask for another frame with --frame"
    );
    Ok(())
}

fn patch_as_json(patch: &TextureSpot) -> serde_json::Value {
    json!({
        "kind": TargetKind::Patch,
        "x_px": patch.place.x,
        "y_px": patch.place.y,
        "radius_px": patch.radius_px,
        "score": patch.score,
    })
}

fn print_patches(patches: &[TextureSpot], out: &mut dyn Write) -> std::io::Result<()> {
    for patch in patches {
        writeln!(
            out,
            "{:<9} {:>10.1} {:>10.1} {:>7} {:>7} {:>9.1} {:>8} {:>7} {:>6.2}",
            TargetKind::Patch.word(),
            patch.place.x,
            patch.place.y,
            "-",
            "-",
            patch.radius_px,
            "-",
            "-",
            patch.score
        )?;
    }
    Ok(())
}

fn as_json(named: &NamedSpot, fit: Option<&LayoutFit>) -> serde_json::Value {
    let spot = &named.spot;
    let mut value = json!({
        "kind": spot.kind,
        "x_px": spot.centre.x,
        "y_px": spot.centre.y,
        "sx_px": spot.cov.xx.sqrt(),
        "sy_px": spot.cov.yy.sqrt(),
        "rxy": spot.cov.correlation(),
        "centre_by": spot.centre_by.word(),
        "radius_px": spot.radius_px,
        "axis_ratio": spot.axis_ratio,
        "angle_deg": spot.angle_rad.to_degrees(),
        "score": spot.score,
    });
    if let Some(fit) = fit {
        value["target"] = json!(named.id);
        if let Err(reason) = fit {
            value["target_reason"] = json!(reason.to_string());
        }
    }
    value
}

fn print(spots: &[NamedSpot], is_named: bool, out: &mut dyn Write) -> std::io::Result<()> {
    if spots.is_empty() {
        return writeln!(out, "no target found; try another frame or other radii");
    }
    writeln!(
        out,
        "{:<9} {:>10} {:>10} {:>7} {:>7} {:>9} {:>8} {:>7} {:>6}{}",
        "kind",
        "x px",
        "y px",
        "± x",
        "± y",
        "radius px",
        "angle °",
        "slant °",
        "score",
        if is_named { "  target" } else { "" }
    )?;
    for NamedSpot { spot, id } in spots {
        let line = format!(
            "{:<9} {:>10.3} {:>10.3} {:>7.3} {:>7.3} {:>9.1} {:>8.1} {:>7.0} {:>6.2}  {}",
            spot.kind.word(),
            spot.centre.x,
            spot.centre.y,
            1.96 * spot.cov.xx.sqrt(),
            1.96 * spot.cov.yy.sqrt(),
            spot.radius_px,
            spot.angle_rad.to_degrees(),
            spot.axis_ratio.acos().to_degrees(),
            spot.score,
            id.as_deref().unwrap_or("")
        );
        writeln!(out, "{}", line.trim_end())?;
    }
    writeln!(out, "± is half the 95 % interval")
}

/// How the layout lies over the frame.
fn print_fit(fit: &LayoutFit, n_surveyed: usize, out: &mut dyn Write) -> std::io::Result<()> {
    match fit {
        Ok(fit) => {
            let checked = match fit.n_spare {
                0 => "nothing checks it".to_owned(),
                n => format!("{n} coordinates check it, off by {:.2} px", fit.rms_px),
            };
            let n = fit.n_matched;
            writeln!(
                out,
                "{n} of {n_surveyed} surveyed targets seen; {checked}. Names are suggestions: confirm them"
            )
        }
        Err(reason) => writeln!(out, "no names: {reason}"),
    }
}
