//! Scatter of repeated measurements, as text and as JSON: type A evaluation of standard uncertainty (JCGM 100, 4.2).

use filmgauge_results::Results;
use serde_json::json;
use std::collections::BTreeMap;
use std::io::Write;

/// Places of one target by frame, one for each run that has a mark there.
type Places = BTreeMap<u32, Vec<[f64; 2]>>;

/// Measurements that should give the same.
pub(super) struct Group {
    title: String,
    n_runs: usize,
    /// By camera and target.
    marks: BTreeMap<(String, String), Places>,
    findings: Vec<Figure>,
}

/// One finding through all runs.
struct Figure {
    name: String,
    subject: String,
    camera: Option<String>,
    source: &'static str,
    unit: String,
    values: Vec<f64>,
    stated_u: Option<f64>,
}

/// Scatter of one target's marks.
struct TargetSpread {
    camera: String,
    target: String,
    frames: usize,
    /// Frames that only some of the runs have a mark in.
    unsteady: usize,
    /// Experimental standard deviation along one axis, pooled over the frames, px.
    spread_px: f64,
    greatest_px: f64,
    greatest_frame: u32,
}

impl Group {
    pub(super) fn new(title: String) -> Self {
        Self { title, n_runs: 0, marks: BTreeMap::new(), findings: Vec::new() }
    }

    pub(super) fn add(&mut self, results: &Results) {
        self.n_runs += 1;
        for mark in &results.marks {
            let of_target = self.marks.entry((mark.camera.clone(), mark.target.clone())).or_default();
            of_target.entry(mark.frame).or_default().push([mark.x_px, mark.y_px]);
        }
        for finding in &results.findings {
            let Some(value) = finding.value else { continue };
            let source = finding.source.word();
            let camera = &finding.evidence.camera;
            let known = self.findings.iter_mut().find(|known| {
                known.name == finding.name
                    && known.subject == finding.subject
                    && known.source == source
                    && known.camera == *camera
            });
            match known {
                Some(known) => known.values.push(value),
                None => self.findings.push(Figure {
                    name: finding.name.clone(),
                    subject: finding.subject.clone(),
                    camera: camera.clone(),
                    source,
                    unit: finding.unit.clone(),
                    values: vec![value],
                    stated_u: finding.uncertainty,
                }),
            }
        }
    }

    fn targets(&self) -> Vec<TargetSpread> {
        let spread = |((camera, target), frames): (&(String, String), &Places)| {
            let mut each: Vec<(u32, f64)> = Vec::new();
            for (frame, places) in frames.iter().filter(|(_, places)| places.len() > 1) {
                let along =
                    |axis: usize| scatter(&places.iter().map(|place| place[axis]).collect::<Vec<_>>());
                let squares: f64 = [0, 1].into_iter().filter_map(along).map(|(_, s)| s * s).sum();
                each.push((*frame, (squares / 2.0).sqrt()));
            }
            let pooled = each.iter().map(|(_, s)| s * s).sum::<f64>() / count(each.len().max(1));
            let greatest = each.iter().copied().fold((0, 0.0), |a, b| if b.1 > a.1 { b } else { a });
            TargetSpread {
                camera: camera.clone(),
                target: target.clone(),
                frames: frames.len(),
                unsteady: frames.values().filter(|places| places.len() < self.n_runs).count(),
                spread_px: pooled.sqrt(),
                greatest_px: greatest.1,
                greatest_frame: greatest.0,
            }
        };
        self.marks.iter().map(spread).collect()
    }

    pub(super) fn as_json(&self) -> serde_json::Value {
        let targets: Vec<_> = self
            .targets()
            .iter()
            .map(|t| {
                json!({
                    "camera": t.camera, "target": t.target, "frames": t.frames, "unsteady_frames": t.unsteady,
                    "spread_px": t.spread_px, "greatest_px": t.greatest_px, "greatest_frame": t.greatest_frame,
                })
            })
            .collect();
        let findings: Vec<_> = self
            .findings
            .iter()
            .map(|f| {
                let scatter = scatter(&f.values);
                json!({
                    "name": f.name, "subject": f.subject, "camera": f.camera, "source": f.source,
                    "unit": f.unit, "made_in": f.values.len(), "mean": scatter.map(|s| s.0),
                    "spread": scatter.map(|s| s.1),
                    "spread_of_mean": scatter.map(|s| s.1 / count(f.values.len()).sqrt()),
                    "stated_u": f.stated_u,
                })
            })
            .collect();
        json!({ "what": self.title, "measurements": self.n_runs, "targets": targets, "findings": findings })
    }
}

/// Mean and experimental standard deviation (JCGM 100, 4.2.1 and 4.2.2); `None` for fewer than two values.
fn scatter(values: &[f64]) -> Option<(f64, f64)> {
    if values.len() < 2 {
        return None;
    }
    let n = count(values.len());
    let mean = values.iter().sum::<f64>() / n;
    let squares: f64 = values.iter().map(|value| (value - mean).powi(2)).sum();
    Some((mean, (squares / (n - 1.0)).sqrt()))
}

#[expect(clippy::cast_precision_loss, reason = "counts stay far below 2^53")]
fn count(n: usize) -> f64 {
    n as f64
}

/// Tables for a terminal.
pub(super) fn print(group: &Group, out: &mut dyn Write) -> anyhow::Result<()> {
    writeln!(out, "{}\n", group.title)?;
    writeln!(
        out,
        "{:<10} {:<10} {:>7} {:>9} {:>11} {:>12} {:>9}",
        "camera", "target", "frames", "unsteady", "spread px", "greatest px", "in frame"
    )?;
    for t in group.targets() {
        writeln!(
            out,
            "{:<10} {:<10} {:>7} {:>9} {:>11.1e} {:>12.1e} {:>9}",
            t.camera, t.target, t.frames, t.unsteady, t.spread_px, t.greatest_px, t.greatest_frame
        )?;
    }
    writeln!(
        out,
        "\n{:<26} {:<18} {:<7} {:>13} {:>12} {:>12} {:>7} unit",
        "finding", "subject", "source", "mean", "spread", "stated u", "made in"
    )?;
    for f in &group.findings {
        let (mean, spread) = match scatter(&f.values) {
            Some((mean, spread)) => (format!("{mean:.6}"), format!("{spread:.2e}")),
            None => (f.values.first().map_or(String::new(), |value| format!("{value:.6}")), String::new()),
        };
        let stated = f.stated_u.map_or(String::new(), |u| format!("{u:.2e}"));
        writeln!(
            out,
            "{:<26} {:<18} {:<7} {mean:>13} {spread:>12} {stated:>12} {:>7} {}",
            f.name,
            f.subject,
            f.source,
            f.values.len(),
            f.unit
        )?;
    }
    writeln!(
        out,
        "\nspread: experimental standard deviation of one measurement; stated u also holds what does not scatter here \
         (board, lens, film speed)\n"
    )?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::scatter;

    #[test]
    fn mean_and_spread_are_those_of_the_formula() {
        // Temperature readings of JCGM 100, table 1 (4.4.3): mean 100.145, experimental standard deviation 1.489.
        let readings = [
            96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07, 100.33, 100.42, 100.68,
            100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72,
        ];
        let (mean, spread) = scatter(&readings).unwrap();
        assert!((mean - 100.145).abs() < 5e-4 && (spread - 1.489).abs() < 5e-4, "{mean} {spread}");
        assert!(scatter(&[1.0]).is_none());
    }
}
