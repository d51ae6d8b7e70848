//! The lens file as TOML: one table `[lens]`.

use super::{LENS_TERMS, LensFile, axes, fault, from_terms, terms};
use crate::GeometryError;
use serde::Deserialize;
use std::fmt::Write;
use toml::Spanned;

/// See [`LensFile::parse`].
pub(super) fn parse(text: &str, file_name: &str) -> Result<LensFile, GeometryError> {
    let source = Source { text, file_name };
    let document: Document = toml::from_str(text)
        .map_err(|error| source.error(error.span().map_or(0, |span| span.start), error.message()))?;
    document.lens.into_inner().checked(&source)
}

/// See [`LensFile::to_toml`].
pub(super) fn text(file: &LensFile) -> String {
    let mut text = String::from("[lens]\n");
    if let Some((width, height)) = file.size_px {
        let _ = writeln!(text, "width_px = {width}\nheight_px = {height}");
    }
    for ((name, value), u) in LENS_TERMS.iter().zip(terms(&file.lens)).zip(file.u) {
        let _ = writeln!(text, "{name} = {value:?}");
        if u > 0.0 {
            let _ = writeln!(text, "u_{name} = {u:?}");
        }
    }
    for (name, value) in [("field_radius_px", file.field_radius_px), ("rms_px", file.rms_px)] {
        if let Some(value) = value {
            let _ = writeln!(text, "{name} = {value:?}");
        }
    }
    if let Some(n_views) = file.n_views {
        let _ = writeln!(text, "n_views = {n_views}");
    }
    if file.correlation != axes::UNCORRELATED {
        let _ = writeln!(text, "# Correlation of the terms, in the order {}.", LENS_TERMS.join(", "));
        text.push_str("correlation = [\n");
        for row in file.correlation {
            let _ = writeln!(text, "  [{}],", row.map(|value| format!("{value:?}")).join(", "));
        }
        text.push_str("]\n");
    }
    text
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Document {
    lens: Spanned<Table>,
}

type Number = Option<Spanned<f64>>;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Table {
    width_px: Option<u32>,
    height_px: Option<u32>,
    fx_px: Spanned<f64>,
    fy_px: Spanned<f64>,
    cx_px: Spanned<f64>,
    cy_px: Spanned<f64>,
    k1: Number,
    k2: Number,
    k3: Number,
    p1: Number,
    p2: Number,
    u_fx_px: Number,
    u_fy_px: Number,
    u_cx_px: Number,
    u_cy_px: Number,
    u_k1: Number,
    u_k2: Number,
    u_k3: Number,
    u_p1: Number,
    u_p2: Number,
    correlation: Option<Spanned<Vec<Vec<f64>>>>,
    field_radius_px: Number,
    rms_px: Number,
    n_views: Option<u32>,
}

impl Table {
    fn checked(self, source: &Source<'_>) -> Result<LensFile, GeometryError> {
        for (name, focal) in [("fx_px", &self.fx_px), ("fy_px", &self.fy_px)] {
            if *focal.get_ref() <= 0.0 {
                return Err(source.error(focal.span().start, &format!("{name} must be greater than 0")));
            }
        }
        let correlation = match &self.correlation {
            None => axes::UNCORRELATED,
            Some(rows) => {
                axes::checked(rows.get_ref()).map_err(|why| source.error(rows.span().start, why))?
            }
        };
        let field_radius_px = source.positive(self.field_radius_px.as_ref(), "field_radius_px")?;
        let rms_px = source.positive(self.rms_px.as_ref(), "rms_px")?;
        let centre = [Some(self.fx_px), Some(self.fy_px), Some(self.cx_px), Some(self.cy_px)];
        let values = centre.into_iter().chain([self.k1, self.k2, self.k3, self.p1, self.p2]);
        let doubts = [
            self.u_fx_px,
            self.u_fy_px,
            self.u_cx_px,
            self.u_cy_px,
            self.u_k1,
            self.u_k2,
            self.u_k3,
            self.u_p1,
            self.u_p2,
        ];
        let mut file = [0.0; 9];
        let mut u = [0.0; 9];
        for (i, (value, doubt)) in values.zip(doubts).enumerate() {
            file[i] = source.finite(value.as_ref(), LENS_TERMS[i])?;
            u[i] = source.finite(doubt.as_ref(), LENS_TERMS[i])?;
            if u[i] < 0.0 {
                let at = doubt.map_or(0, |number| number.span().start);
                return Err(source.error(at, &format!("u_{} must not be negative", LENS_TERMS[i])));
            }
        }
        let size_px = self.width_px.zip(self.height_px);
        let n_views = self.n_views;
        Ok(LensFile {
            correlation,
            field_radius_px,
            rms_px,
            n_views,
            ..LensFile::of(from_terms(file), u, size_px)
        })
    }
}

struct Source<'a> {
    text: &'a str,
    file_name: &'a str,
}

impl Source<'_> {
    fn finite(&self, number: Option<&Spanned<f64>>, name: &str) -> Result<f64, GeometryError> {
        match number {
            None => Ok(0.0),
            Some(number) if number.get_ref().is_finite() => Ok(*number.get_ref()),
            Some(number) => Err(self.error(number.span().start, &format!("{name} must be a finite number"))),
        }
    }

    fn positive(&self, number: Option<&Spanned<f64>>, name: &str) -> Result<Option<f64>, GeometryError> {
        match number {
            None => Ok(None),
            Some(number) if number.get_ref().is_finite() && *number.get_ref() >= 0.0 => {
                Ok(Some(*number.get_ref()))
            }
            Some(number) => Err(self.error(number.span().start, &format!("{name} must be 0 or more"))),
        }
    }

    fn error(&self, at: usize, why: &str) -> GeometryError {
        fault(self.text, at, self.file_name, why)
    }
}
