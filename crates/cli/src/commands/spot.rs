//! `spot`: finds quadrant targets in one frame.

use crate::exit::Exit;
use crate::watch::stop_flag;
use anyhow::{Context, bail};
use filmgauge_footage::ReadOptions;
use filmgauge_targets::{Spot, SpotOptions};
use serde_json::json;
use std::io::Write;
use std::path::Path;
use std::sync::atomic::Ordering;

pub(super) fn spot(
    footage: &str,
    frame: u32,
    radii_px: [f64; 2],
    json: bool,
    out: &mut dyn Write,
) -> anyhow::Result<Exit> {
    let mut reader = filmgauge_footage::open(Path::new("."), footage, &ReadOptions::default())?;
    let stop = stop_flag();
    let mut seen = 0;
    let picture = loop {
        if stop.load(Ordering::SeqCst) {
            bail!("stopped on request");
        }
        let found = reader.next_frame()?.with_context(|| {
            format!("{footage} ends after {seen} frames; there is no frame {frame}. Ask for an earlier one")
        })?;
        if found.number.0 == frame {
            break found.picture;
        }
        seen += 1;
    };
    let options = SpotOptions {
        least_radius_px: radii_px[0],
        greatest_radius_px: radii_px[1],
        ..SpotOptions::default()
    };
    let spots = filmgauge_targets::spot(&picture.view(), &options)?;
    if json {
        let list = spots.iter().map(as_json).collect::<Vec<_>>();
        writeln!(out, "{}", serde_json::to_string_pretty(&list)?)?;
    } else {
        print(&spots, out)?;
    }
    Ok(Exit::person_if(spots.is_empty()))
}

fn as_json(spot: &Spot) -> serde_json::Value {
    json!({
        "kind": spot.kind,
        "x_px": spot.centre.x,
        "y_px": spot.centre.y,
        "sx_px": spot.cov.xx.sqrt(),
        "sy_px": spot.cov.yy.sqrt(),
        "rxy": spot.cov.correlation(),
        "radius_px": spot.radius_px,
        "angle_deg": spot.angle_rad.to_degrees(),
        "score": spot.score,
    })
}

fn print(spots: &[Spot], out: &mut dyn Write) -> std::io::Result<()> {
    if spots.is_empty() {
        return writeln!(out, "no target found; try another frame or other radii");
    }
    writeln!(
        out,
        "{:<9} {:>10} {:>10} {:>7} {:>7} {:>9} {:>8} {:>6}",
        "kind", "x px", "y px", "± x", "± y", "radius px", "angle °", "score"
    )?;
    for spot in spots {
        writeln!(
            out,
            "{:<9} {:>10.3} {:>10.3} {:>7.3} {:>7.3} {:>9.1} {:>8.1} {:>6.2}",
            spot.kind.word(),
            spot.centre.x,
            spot.centre.y,
            1.96 * spot.cov.xx.sqrt(),
            1.96 * spot.cov.yy.sqrt(),
            spot.radius_px,
            spot.angle_rad.to_degrees(),
            spot.score
        )?;
    }
    writeln!(out, "± is half the 95 % interval")
}
