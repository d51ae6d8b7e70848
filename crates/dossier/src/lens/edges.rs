//! A lens from straight edges in one picture: points along each are located, then what bends them is fitted.

use super::Unused;
use super::edges_file::{EdgeEntry, EdgesFile};
use super::words::lens_terms;
use crate::DossierError;
use filmgauge_geometry::{LensFile, PlumbLineFit, PlumbLineOptions, fit_plumb_lines};
use filmgauge_quantities::{GreyView, PixelPoint};
use filmgauge_results::{LensPicture, LensPoint, LensResidual};
use filmgauge_targets::{TraceOptions, trace_edge};

/// An edge whose RMS is so many times that of the middle edge, and above this, px, is named: it may not be straight.
const ODD_RATIO: f64 = 4.0;
const ODD_PX: f64 = 0.1;
/// A field that reaches less of the way to the picture's farthest corner is named.
const LEAST_REACH: f64 = 0.6;
/// What is left of neighbouring points is named from this correlation on.
const ODD_CORRELATION: f64 = 0.5;

/// An edge that the lens rests on.
#[derive(Debug, Clone, PartialEq)]
pub struct LocatedEdge {
    /// Its name.
    pub name: String,
    /// Points along it, px.
    pub points: Vec<PixelPoint>,
    /// Root mean square of the points' stated standard uncertainties across the edge, px; `None` where they were given by a
    /// person.
    pub u_px: Option<f64>,
}

/// A lens from straight edges.
#[derive(Debug, Clone, PartialEq)]
pub struct EdgeCalibration {
    /// The fit.
    pub fit: PlumbLineFit,
    /// The edges it rests on, in the fit's order.
    pub edges: Vec<LocatedEdge>,
    /// Edges that could not be used.
    pub unused: Vec<Unused>,
    /// Width and height of the picture, px.
    pub size_px: (u32, u32),
    /// What a person must look at.
    pub notices: Vec<String>,
}

/// The lens that bends edges which are straight in truth, from one picture and the edges that a person shows in it.
///
/// # Errors
/// [`DossierError::Lens`] when the edges do not give a lens, with what became of each.
pub fn calibrate_from_edges(view: &GreyView, shown: &EdgesFile) -> Result<EdgeCalibration, DossierError> {
    let side = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
    let size_px = (side(view.width()), side(view.height()));
    let mut options = PlumbLineOptions::of(size_px);
    if let Some([x, y]) = shown.centre_px {
        options.centre = PixelPoint::new(x, y);
    }
    options.centre_u_px = shown.centre_uncertainty_px.unwrap_or(options.centre_u_px);
    let (mut edges, mut unused) = (Vec::new(), Vec::new());
    for (n, entry) in shown.edge.iter().enumerate() {
        let name = entry.name.clone().unwrap_or_else(|| format!("edge {}", n + 1));
        match located(view, entry) {
            Ok((points, u_px)) => edges.push(LocatedEdge { name, points, u_px }),
            Err(reason) => unused.push(Unused { name, reason }),
        }
    }
    let points: Vec<Vec<PixelPoint>> = edges.iter().map(|edge| edge.points.clone()).collect();
    let fit = fit_plumb_lines(&points, &options)
        .map_err(|why| DossierError::Lens(format!("{}: {why}", became(&edges, &unused))))?;
    let notices = notices(&fit, (&edges, &unused), size_px);
    Ok(EdgeCalibration { fit, edges, unused, size_px, notices })
}

/// What became of the edges, for an error that follows from it.
fn became(edges: &[LocatedEdge], unused: &[Unused]) -> String {
    let n = edges.len() + unused.len();
    let used: Vec<&str> = edges.iter().map(|edge| edge.name.as_str()).collect();
    let used = if used.is_empty() { String::new() } else { format!(" ({})", used.join(", ")) };
    let reasons = unused.iter().map(|edge| format!("; {}: {}", edge.name, edge.reason));
    format!("{} of {n} edges located{used}{}", edges.len(), reasons.collect::<String>())
}

/// Points along an edge, and their own doubt.
fn located(view: &GreyView, entry: &EdgeEntry) -> Result<(Vec<PixelPoint>, Option<f64>), String> {
    let given: Vec<PixelPoint> = entry.points_px.iter().map(|[x, y]| PixelPoint::new(*x, *y)).collect();
    let (width, height) = (view.width() as f64, view.height() as f64);
    let is_outside =
        |at: &&PixelPoint| !((-0.5..=width - 0.5).contains(&at.x) && (-0.5..=height - 0.5).contains(&at.y));
    if let Some(at) = given.iter().find(is_outside) {
        return Err(format!("({}, {}) is not in the picture of {width} x {height} px", at.x, at.y));
    }
    if !entry.locate {
        return Ok((given, None));
    }
    if given.len() < 2 {
        return Err("one place is no edge; give both its ends".into());
    }
    let (mut points, mut squares) = (Vec::new(), 0.0);
    for ends in given.windows(2) {
        let trace =
            trace_edge(view, ends[0], ends[1], &TraceOptions::default()).map_err(|why| why.to_string())?;
        squares += trace.points.iter().map(|point| point.u_px * point.u_px).sum::<f64>();
        points.extend(trace.points.iter().map(|point| point.at));
    }
    let u_px = (squares / points.len().max(1) as f64).sqrt();
    Ok((points, Some(u_px)))
}

fn notices(
    fit: &PlumbLineFit,
    (edges, unused): (&[LocatedEdge], &[Unused]),
    size_px: (u32, u32),
) -> Vec<String> {
    let mut notices: Vec<String> =
        unused.iter().map(|edge| format!("{} was not used: {}", edge.name, edge.reason)).collect();
    let mut sorted = fit.edge_rms_px.clone();
    sorted.sort_by(f64::total_cmp);
    let middle_px = sorted.get(sorted.len() / 2).copied().unwrap_or(0.0);
    for (edge, rms_px) in edges.iter().zip(&fit.edge_rms_px) {
        if *rms_px > ODD_PX.max(ODD_RATIO * middle_px) {
            notices.push(format!(
                "{}: RMS {rms_px:.3} px, the middle edge has {middle_px:.3} px; check that it is straight in truth, or leave it out",
                edge.name
            ));
        }
    }
    let (width, height) = (f64::from(size_px.0), f64::from(size_px.1));
    let corners = [(0.0, 0.0), (width, 0.0), (0.0, height), (width, height)];
    let away = corners.map(|(x, y)| (x - fit.lens.cx_px).hypot(y - fit.lens.cy_px));
    let farthest_px = away.into_iter().fold(0.0, f64::max);
    if fit.field.radius_px < LEAST_REACH * farthest_px {
        notices.push(format!(
            "The edges reach {:.0} px from the centre, the picture {farthest_px:.0} px: beyond them the distortion is a guess; add edges farther out",
            fit.field.radius_px
        ));
    }
    if fit.neighbour_correlation > ODD_CORRELATION {
        notices.push(format!(
            "What is left hangs together along the edges (correlation {:.2}): they are not quite straight, the centre of distortion is elsewhere, or the lens bends otherwise; the ± was widened for it",
            fit.neighbour_correlation
        ));
    }
    notices
}

impl EdgeCalibration {
    pub(super) fn file(&self) -> LensFile {
        LensFile::of_plumb_lines(&self.fit, self.size_px)
    }

    /// Points on all edges.
    #[must_use]
    pub fn n_points(&self) -> usize {
        self.edges.iter().map(|edge| edge.points.len()).sum()
    }

    /// What each point is off by across its edge.
    #[must_use]
    pub fn picture(&self) -> LensPicture {
        let fit = &self.fit;
        let of_edge = |(edge, away): (&LocatedEdge, &Vec<[f64; 2]>)| -> Vec<LensResidual> {
            let residual = |(at, residual_px): (&PixelPoint, &[f64; 2])| LensResidual {
                at_px: [at.x, at.y],
                residual_px: *residual_px,
                is_used: true,
            };
            edge.points.iter().zip(away).map(residual).collect()
        };
        LensPicture {
            title: format!("Lens from {} straight edges: RMS {:.3} px", self.edges.len(), fit.rms_px),
            size_px: self.size_px,
            of: LensPoint::EdgePoint,
            points: self.edges.iter().zip(&fit.away_px).flat_map(of_edge).collect(),
            outline_px: fit.field.outline.iter().map(|at| [at.x, at.y]).collect(),
            centre_px: [fit.lens.cx_px, fit.lens.cy_px],
            field_radius_px: fit.field.radius_px,
        }
    }

    pub(super) fn said(&self) -> Vec<String> {
        let fit = &self.fit;
        let mut lines = vec![format!(
            "RMS {:.4} px over {} edges and {} points ({:.2} px before correction); terms {}; edges span {:.0} % of the picture",
            fit.rms_px,
            self.edges.len(),
            self.n_points(),
            fit.rms_before_px,
            if fit.has_k2 { "k1 k2" } else { "k1" },
            100.0 * fit.field.share
        )];
        // The focal length is a convention here, and the other terms are not fitted.
        let shown = if fit.has_k2 { 2..6 } else { 2..5 };
        lines.extend(lens_terms(&self.file()).drain(shown));
        lines
    }
}
