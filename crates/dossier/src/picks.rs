//! Marks placed by hand: `picks/<camera>.csv`, one row a mark, read with file and line in every error. Format: docs/formats.md.

use crate::document::READING_U_PX;
use crate::error::DossierError;
use crate::load::Dossier;
use crate::options::RunOptions;
use crate::plan::CameraPlan;
use filmgauge_quantities::{FrameNumber, PixelPoint};
use filmgauge_targets::HandMark;
use std::path::{Path, PathBuf};

/// Columns that must be there, and those that may.
const NEEDED: [&str; 4] = ["frame", "target", "x_px", "y_px"];
const OPTIONAL: [&str; 3] = ["sx_px", "sy_px", "operator"];

/// Hand marks of one camera.
#[derive(Debug, Clone, Default)]
pub(crate) struct Picks {
    pub(crate) marks: Vec<HandMark>,
    /// The file that they are from; `None` when there is none.
    pub(crate) file: Option<PathBuf>,
}

/// The camera's hand marks; none where the dossier has no such file.
pub(crate) fn read(
    dossier: &Dossier,
    camera: &CameraPlan,
    options: &RunOptions,
) -> Result<Picks, DossierError> {
    let given = options.picks.get(camera.id.as_str());
    let own = dossier.root.join("picks").join(format!("{}.csv", camera.id));
    let file = match given {
        Some(file) => file.clone(),
        None if own.is_file() => own,
        None => return Ok(Picks::default()),
    };
    let text = std::fs::read(&file).map_err(|source| DossierError::Io { path: file.clone(), source })?;
    let sheet = Sheet { name: shown(&dossier.root, &file), camera };
    let marks = sheet.marks(&String::from_utf8_lossy(&text))?;
    Ok(Picks { marks, file: Some(file) })
}

fn shown(root: &Path, file: &Path) -> String {
    file.strip_prefix(root).unwrap_or(file).display().to_string()
}

/// One picks file being read.
struct Sheet<'a> {
    name: String,
    camera: &'a CameraPlan,
}

impl Sheet<'_> {
    fn marks(&self, text: &str) -> Result<Vec<HandMark>, DossierError> {
        let text = text.trim_start_matches('\u{feff}');
        let mut lines = (1..).zip(text.lines()).filter(|(_, line)| is_row(line));
        let (line, head) = lines.next().ok_or_else(|| self.fault(1, "it has no row of headers".into()))?;
        let columns: Vec<String> = cells(head).map(str::to_lowercase).collect();
        for name in NEEDED {
            if columns.iter().filter(|column| *column == name).count() != 1 {
                return Err(self.fault(line, format!("column {name} must be there once")));
            }
        }
        let known =
            |column: &&String| NEEDED.contains(&column.as_str()) || OPTIONAL.contains(&column.as_str());
        if let Some(other) = columns.iter().find(|column| !known(column)) {
            return Err(self.fault(line, format!("column \"{other}\" is not known")));
        }
        let mut marks: Vec<(usize, HandMark)> = Vec::new();
        for (line, row) in lines {
            let mark = self.mark(line, &columns, row)?;
            let twin =
                marks.iter().find(|(_, other)| other.frame == mark.frame && other.target == mark.target);
            if let Some((first, _)) = twin {
                let what =
                    format!("target {} is marked twice in frame {} (line {first})", mark.target, mark.frame);
                return Err(self.fault(line, what));
            }
            marks.push((line, mark));
        }
        Ok(marks.into_iter().map(|(_, mark)| mark).collect())
    }

    fn mark(&self, line: usize, columns: &[String], row: &str) -> Result<HandMark, DossierError> {
        let values: Vec<&str> = cells(row).collect();
        if values.len() != columns.len() {
            let what = format!("{} values under {} headers", values.len(), columns.len());
            return Err(self.fault(line, what));
        }
        let cell = |name: &str| columns.iter().position(|column| column == name).map_or("", |at| values[at]);
        let number = |name: &str| -> Result<f64, DossierError> {
            let value: Option<f64> = cell(name).parse().ok().filter(|value: &f64| value.is_finite());
            value.ok_or_else(|| self.fault(line, format!("{name} = \"{}\" is no number", cell(name))))
        };
        let frame: u32 = cell("frame").parse().map_err(|why| {
            self.fault(line, format!("frame = \"{}\" is no frame number ({why})", cell("frame")))
        })?;
        let name = cell("target");
        let target = self.camera.targets.iter().find(|target| target.id.as_str() == name);
        let Some(target) = target else {
            let ids: Vec<&str> = self.camera.targets.iter().map(|target| target.id.as_str()).collect();
            let there = ids.join(", ");
            let what = format!("camera {} has no target \"{name}\" (there are: {there})", self.camera.id);
            return Err(self.fault(line, what));
        };
        let u_px = |column: &str| match cell(column) {
            "" => Ok(READING_U_PX),
            _ => match number(column)? {
                value if value > 0.0 && value <= 50.0 => Ok(value),
                value => Err(self.fault(line, format!("{column} = {value} is not above 0, up to 50 px"))),
            },
        };
        let centre = PixelPoint::new(number("x_px")?, number("y_px")?);
        if centre.x < -0.5 || centre.y < -0.5 {
            return Err(self.fault(line, format!("({}, {}) px is outside the picture", centre.x, centre.y)));
        }
        let (frame, target) = (FrameNumber(frame), target.id.clone());
        Ok(HandMark { frame, target, centre, u_px: [u_px("sx_px")?, u_px("sy_px")?] })
    }

    fn fault(&self, line: usize, what: String) -> DossierError {
        let remedy = "Mend or remove the line; docs/formats.md lists the columns".into();
        DossierError::Document { file: self.name.clone(), line, what, remedy }
    }
}

fn is_row(line: &str) -> bool {
    let line = line.trim();
    !line.is_empty() && !line.starts_with('#')
}

fn cells(line: &str) -> impl Iterator<Item = &str> {
    line.split(',').map(|cell| cell.trim().trim_matches('"'))
}
