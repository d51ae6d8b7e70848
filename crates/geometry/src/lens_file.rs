//! The lens file: TOML text to a lens with the standard uncertainty of each term, and back.

use crate::{GeometryError, Lens};
use serde::Deserialize;
use std::fmt::Write;
use toml::Spanned;

/// Names of the lens terms, in the order of [`LensFile::u`].
pub const LENS_TERMS: [&str; 9] = ["fx_px", "fy_px", "cx_px", "cy_px", "k1", "k2", "k3", "p1", "p2"];

/// A lens, how well each of its terms is known, and the picture it belongs to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LensFile {
    /// The lens.
    pub lens: Lens,
    /// Standard uncertainty of each term, in the order of [`LENS_TERMS`] and in the term's own unit; 0 where not stated.
    pub u: [f64; 9],
    /// Width and height of the calibrated picture, px, where stated.
    pub size_px: Option<(u32, u32)>,
}

impl LensFile {
    /// Reads the text of a lens file: one table `[lens]` with `fx_px`, `fy_px`, `cx_px`, `cy_px`; optional `k1`, `k2`,
    /// `k3`, `p1`, `p2` (0 where absent), `u_…` for the standard uncertainty of each, `width_px` and `height_px`.
    ///
    /// # Errors
    /// [`GeometryError::LensFile`] with `file_name` and line for text that is not such a file.
    pub fn parse(text: &str, file_name: &str) -> Result<Self, GeometryError> {
        let source = Source { text, file_name };
        let document: Document = toml::from_str(text)
            .map_err(|error| source.error(error.span().map_or(0, |span| span.start), error.message()))?;
        document.lens.into_inner().checked(&source)
    }

    /// The text of a lens file that [`LensFile::parse`] reads back to the same values.
    #[must_use]
    pub fn to_toml(&self) -> String {
        let mut text = String::from("[lens]\n");
        if let Some((width, height)) = self.size_px {
            let _ = writeln!(text, "width_px = {width}\nheight_px = {height}");
        }
        for ((name, value), u) in LENS_TERMS.iter().zip(terms(&self.lens)).zip(self.u) {
            let _ = writeln!(text, "{name} = {value:?}");
            if u > 0.0 {
                let _ = writeln!(text, "u_{name} = {u:?}");
            }
        }
        text
    }

    /// The lens with one term larger by its standard uncertainty; `term` counts in [`LENS_TERMS`], and a term
    /// beyond the last leaves the lens as it is.
    #[must_use]
    pub fn perturbed(&self, term: usize) -> Lens {
        let mut values = terms(&self.lens);
        if let (Some(value), Some(u)) = (values.get_mut(term), self.u.get(term)) {
            *value += u;
        }
        from_terms(values)
    }
}

fn terms(lens: &Lens) -> [f64; 9] {
    [lens.fx_px, lens.fy_px, lens.cx_px, lens.cy_px, lens.k1, lens.k2, lens.k3, lens.p1, lens.p2]
}

fn from_terms([fx_px, fy_px, cx_px, cy_px, k1, k2, k3, p1, p2]: [f64; 9]) -> Lens {
    Lens { fx_px, fy_px, cx_px, cy_px, k1, k2, k3, p1, p2 }
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
}

impl Table {
    fn checked(self, source: &Source<'_>) -> Result<LensFile, GeometryError> {
        for (name, focal) in [("fx_px", &self.fx_px), ("fy_px", &self.fy_px)] {
            if *focal.get_ref() <= 0.0 {
                return Err(source.error(focal.span().start, &format!("{name} must be greater than 0")));
            }
        }
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
        Ok(LensFile { lens: from_terms(file), u, size_px: self.width_px.zip(self.height_px) })
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

    fn error(&self, at: usize, why: &str) -> GeometryError {
        let before = self.text.as_bytes().iter().take(at);
        let line = 1 + before.filter(|byte| **byte == b'\n').count();
        GeometryError::LensFile { file: self.file_name.to_owned(), line, why: why.to_owned() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const FILE: &str = "# side camera\n[lens]\nfx_px = 2000\nfy_px = 2001.5\ncx_px = 640.2\ncy_px = 224.9\nk1 = -0.12\n\
                        u_fx_px = 3.0\nu_k1 = 0.002\nwidth_px = 1280\nheight_px = 448\n";

    #[test]
    fn reads_what_it_writes() {
        let file = LensFile::parse(FILE, "side.toml").unwrap();
        assert_eq!(file.size_px, Some((1280, 448)));
        assert!((file.lens.k1 + 0.12).abs() < 1e-15 && (file.u[4] - 0.002).abs() < 1e-15);
        assert_eq!(LensFile::parse(&file.to_toml(), "again.toml").unwrap(), file);
        assert!((file.perturbed(0).fx_px - 2003.0).abs() < 1e-12);
        assert_eq!(file.perturbed(9), file.lens);
    }

    #[test]
    fn faults_name_file_and_line() {
        for (from, to, line) in [
            ("k1 = -0.12", "k7 = 1.0", "line 7"),
            ("fx_px = 2000", "fx_px = -2000", "line 3"),
            ("cy_px = 224.9", "cy_px = nan", "line 6"),
            ("u_k1 = 0.002", "u_k1 = -1", "line 9"),
            ("cx_px = 640.2", "cx_px = \"left\"", "line 5"),
            ("[lens]", "[lense]", "line 2"),
        ] {
            let error = LensFile::parse(&FILE.replacen(from, to, 1), "side.toml").unwrap_err().to_string();
            assert!(error.starts_with("side.toml") && error.contains(line), "{error}");
        }
    }
}
