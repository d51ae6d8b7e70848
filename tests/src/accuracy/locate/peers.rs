//! OpenCV on the pictures of a cell: stacks in a scratch folder, asked in one go.

use super::paint::{Paint, Picture};
use super::trials::Cell;
use crate::peer::ask;
use anyhow::{Context, Result, ensure};
use filmgauge_quantities::{GreyImage, PixelPoint, TargetKind};
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::SeedableRng;
use serde_json::{Value, json};
use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::Path;

/// Seed of the templates' noise.
const TEMPLATE_SEED: u64 = 77;

/// Pictures of one cell with their templates and true centres.
pub(super) struct Pictures {
    pictures: Vec<GreyImage>,
    templates: Vec<GreyImage>,
    truths: Vec<PixelPoint>,
    /// The present target on the middle pixel, before noise.
    still: Option<Picture>,
    random: Xoshiro256PlusPlus,
}

impl Default for Pictures {
    fn default() -> Self {
        let random = Xoshiro256PlusPlus::seed_from_u64(TEMPLATE_SEED);
        Self { pictures: Vec::new(), templates: Vec::new(), truths: Vec::new(), still: None, random }
    }
}

impl Pictures {
    /// From now on templates show this target, as it is turned, slanted and smeared, on the middle pixel.
    pub(super) fn turn_to(&mut self, cell: &Cell, paint: &Paint) {
        let still = cell.paint((0.0, 0.0), paint.turn_rad, paint.slant_towards_rad);
        self.still = Some(still.picture(cell.side()));
    }

    /// Keeps a picture, with a template of its own noise.
    pub(super) fn add(&mut self, cell: &Cell, paint: &Paint, image: &GreyImage) -> Result<()> {
        if let Some(still) = &self.still {
            self.templates.push(still.noisy(cell.noise_grey, &mut self.random)?);
            self.pictures.push(image.clone());
            self.truths.push(paint.centre);
        }
        Ok(())
    }
}

/// Root mean square error along one axis, px; `None` where the method does not apply or gave up.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Peers {
    pub(super) corner: Option<f64>,
    pub(super) flow: Option<f64>,
    pub(super) ecc: Option<f64>,
    pub(super) matched: Option<f64>,
}

/// What the peers make of all cells' pictures.
pub(super) fn ask_all(cells: &[Cell], asked: &[&Pictures]) -> Result<Vec<Peers>> {
    let folder = tempfile::tempdir().context("a scratch folder is needed")?;
    let mut questions = Vec::new();
    for (index, (cell, pictures)) in cells.iter().zip(asked).enumerate() {
        let path = |name: &str| folder.path().join(format!("{name}-{index}.npy"));
        stack(&path("pictures"), &pictures.pictures)?;
        stack(&path("templates"), &pictures.templates)?;
        questions.push(json!({
            "pictures": path("pictures"), "templates": path("templates"),
            "middle": cell.middle(), "radius": cell.radius_px + cell.smear_px / 2.0,
            "has_corner": cell.kind == TargetKind::Quadrant,
        }));
    }
    let answer = ask("locate.py", &json!({ "cells": questions }))?;
    let answers = answer.as_array().context("the peers gave no list")?;
    ensure!(answers.len() == cells.len(), "{} answers for {} cells", answers.len(), cells.len());
    Ok(answers
        .iter()
        .zip(asked)
        .map(|(answer, asked)| Peers {
            corner: rms(&answer["cornerSubPix"], &asked.truths),
            flow: rms(&answer["PyrLK"], &asked.truths),
            ecc: rms(&answer["ECC"], &asked.truths),
            matched: rms(&answer["matchTemplate + parabola"], &asked.truths),
        })
        .collect())
}

/// Over the centres that the method gave; none where it gave less than nine in ten.
fn rms(found: &Value, truths: &[PixelPoint]) -> Option<f64> {
    let found = found.as_array()?;
    let squares: Vec<f64> = found
        .iter()
        .zip(truths)
        .filter_map(|(place, truth)| {
            let (x, y) = (place.get(0)?.as_f64()?, place.get(1)?.as_f64()?);
            Some(PixelPoint::new(x, y).distance(*truth).powi(2))
        })
        .collect();
    (10 * squares.len() > 9 * truths.len())
        .then(|| (squares.iter().sum::<f64>() / (2.0 * squares.len() as f64)).sqrt())
}

/// Pictures of one size as an array file of numpy (format version 1.0).
fn stack(path: &Path, images: &[GreyImage]) -> Result<()> {
    let view = images.first().context("no pictures")?.view();
    let shape = format!("({}, {}, {})", images.len(), view.height(), view.width());
    let mut header = format!("{{'descr': '|u1', 'fortran_order': False, 'shape': {shape}, }}");
    // Magic, version and length take 10 bytes; the whole is a multiple of 64 and ends in a line feed.
    while (10 + header.len() + 1) % 64 != 0 {
        header.push(' ');
    }
    header.push('\n');
    let mut file = BufWriter::new(File::create(path)?);
    file.write_all(b"\x93NUMPY\x01\x00")?;
    file.write_all(&u16::try_from(header.len())?.to_le_bytes())?;
    file.write_all(header.as_bytes())?;
    for image in images {
        let view = image.view();
        for y in 0..view.height() {
            let row = (0..view.width()).filter_map(|x| view.get(x, y)).map(|level| level as u8);
            file.write_all(&row.collect::<Vec<u8>>())?;
        }
    }
    Ok(file.flush()?)
}
