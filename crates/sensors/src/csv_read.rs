//! Tables of channels: a time column and one column per channel, comma or semicolon.

use crate::text::{file_error, number, read_text};
use crate::units::si_unit;
use crate::{Channel, SensorsError};
use std::path::Path;

/// Largest departure of a time from the even time base, as a share of the step.
const UNEVEN_SHARE: f64 = 0.05;

/// Kinds of table whose cells stand apart by blanks or tabs.
pub(crate) const BLANK_KINDS: [&str; 4] = ["txt", "asc", "dat", "xy"];

/// Headers of all columns but that of time.
pub(crate) fn list_csv(path: &Path) -> Result<Vec<String>, SensorsError> {
    Ok(Table::read(path)?.codes())
}

/// The column headed `code`, with or without a unit in brackets after it.
pub(crate) fn read_csv(path: &Path, code: &str) -> Result<Channel, SensorsError> {
    let table = Table::read(path)?;
    let column = table.column(code)?;
    let (start_s, step_s) = table.time_base()?;
    let values = table.numbers(column)?;
    let mut steps = Vec::new();
    if table.decimal_comma {
        steps.push("decimal commas read as points".to_owned());
    }
    Ok(Channel {
        code: code.trim().to_owned(),
        unit: table.unit(column),
        start_s,
        step_s,
        values,
        file: path.to_owned(),
        comments: table.comments,
        steps,
    })
}

struct Table<'a> {
    path: &'a Path,
    heads: Vec<String>,
    units: Vec<String>,
    comments: Vec<String>,
    rows: Vec<(u64, csv::StringRecord)>,
    decimal_comma: bool,
}

impl<'a> Table<'a> {
    fn read(path: &'a Path) -> Result<Self, SensorsError> {
        let (text, added) = with_commas(path, read_text(path)?);
        let comments =
            text.lines().filter_map(|line| line.trim_start().strip_prefix('#')).map(|c| c.trim().to_owned());
        let head = text.lines().find(|line| !line.trim().is_empty() && !line.trim_start().starts_with('#'));
        let semicolon = head.is_some_and(|head| head.contains(';'));
        let mut table = Self {
            path,
            heads: Vec::new(),
            units: Vec::new(),
            comments: comments.collect(),
            rows: records(path, &text, if semicolon { b';' } else { b',' }, added)?,
            decimal_comma: false,
        };
        if table.rows.is_empty() {
            return Err(file_error(path, None, "has no row of headers"));
        }
        table.heads = cells(&table.rows.remove(0).1);
        table.decimal_comma =
            semicolon && table.rows.iter().any(|(_, row)| row.iter().any(|cell| cell.contains(',')));
        let time = table.time_column()?;
        let has_units = |row: &csv::StringRecord| {
            row.get(time).is_some_and(|cell| si_unit(cell).is_some_and(|u| u.0 == "s"))
        };
        if table.rows.first().is_some_and(|(_, row)| has_units(row)) {
            table.units = cells(&table.rows.remove(0).1);
        }
        Ok(table)
    }

    fn codes(&self) -> Vec<String> {
        let time = self.time_column().ok();
        (0..self.heads.len()).filter(|&at| Some(at) != time).map(|at| self.heads[at].clone()).collect()
    }

    /// The first column whose header has the word time, or a first column headed `t`.
    fn time_column(&self) -> Result<usize, SensorsError> {
        let headed_t = || {
            let first = self.heads.first().map(|head| without_unit(head).to_lowercase());
            (first.as_deref() == Some("t") || first.as_deref() == Some("t_s")).then_some(0)
        };
        self.heads.iter().position(|head| head.to_lowercase().contains("time")).or_else(headed_t).ok_or_else(
            || {
                file_error(
                    self.path,
                    Some(1),
                    "no column is headed \"time_s\" (or has \"time\" in its header); add one",
                )
            },
        )
    }

    fn column(&self, code: &str) -> Result<usize, SensorsError> {
        let wanted = code.trim();
        let time = self.time_column()?;
        let matches = |exact: bool| -> Vec<usize> {
            let same = |head: &String| head == wanted || (!exact && without_unit(head) == wanted);
            (0..self.heads.len()).filter(|&at| at != time && same(&self.heads[at])).collect()
        };
        let exact = matches(true);
        let found = if exact.is_empty() { matches(false) } else { exact };
        match found.as_slice() {
            [column] => Ok(*column),
            [] => Err(SensorsError::NoChannel {
                path: self.path.to_owned(),
                code: code.to_owned(),
                available: self.codes(),
            }),
            _ => Err(file_error(
                self.path,
                None,
                format!("two columns are headed \"{wanted}\"; make the headers unique"),
            )),
        }
    }

    /// Unit from the row of units, else from brackets in the header, else empty.
    fn unit(&self, column: usize) -> String {
        let row = self.units.get(column).filter(|unit| !unit.is_empty()).map(String::as_str);
        row.or_else(|| unit_in(&self.heads[column])).unwrap_or_default().to_owned()
    }

    fn numbers(&self, column: usize) -> Result<Vec<f64>, SensorsError> {
        if self.rows.len() < 2 {
            let problem = format!("{} rows of values; a channel has at least 2", self.rows.len());
            return Err(file_error(self.path, None, problem));
        }
        let read = |(line, row): &(u64, csv::StringRecord)| {
            let cell = row.get(column).unwrap_or_default();
            let cell = if self.decimal_comma { cell.replace(',', ".") } else { cell.to_owned() };
            number(&cell).map_err(|problem| {
                file_error(self.path, Some(*line), format!("column \"{}\": {problem}", self.heads[column]))
            })
        };
        self.rows.iter().map(read).collect()
    }

    /// Start and step in seconds, of times that are even.
    fn time_base(&self) -> Result<(f64, f64), SensorsError> {
        let column = self.time_column()?;
        let times = self.numbers(column)?;
        let unit = self.unit(column);
        let unit = if unit.is_empty() { unit_after_name(&self.heads[column]) } else { unit };
        let to_s = match si_unit(&unit) {
            Some(("s", factor)) => factor,
            _ => {
                let problem = format!("the time column's unit \"{unit}\" is not s, ms or us; correct it");
                return Err(file_error(self.path, None, problem));
            }
        };
        let step = even_step(&times).map_err(|(row, problem)| {
            file_error(self.path, self.rows.get(row).map(|(line, _)| *line), problem)
        })?;
        Ok((times[0] * to_s, step * to_s))
    }
}

/// A table whose cells stand apart by blanks or tabs (`.txt`, `.asc`, `.dat`, `.xy`), with commas instead. Without a row of headers
/// its columns are `time_s`, `y`, `y2` and so on.
///
/// Also how many lines were put before the file's own.
fn with_commas(path: &Path, text: String) -> (String, u64) {
    let extension = path.extension().map(|extension| extension.to_string_lossy().to_lowercase());
    if !extension.is_some_and(|extension| BLANK_KINDS.contains(&extension.as_str())) {
        return (text, 0);
    }
    let is_note = |line: &str| line.trim_start().starts_with('#') || line.trim().is_empty();
    let first = text.lines().find(|line| !is_note(line)).unwrap_or_default();
    let cells: Vec<&str> = first.split_whitespace().collect();
    let bare = !cells.is_empty() && cells.iter().all(|cell| cell.parse::<f64>().is_ok());
    let mut table = String::with_capacity(text.len());
    if bare {
        let more = (1..cells.len()).map(|at| if at == 1 { ",y".to_owned() } else { format!(",y{at}") });
        table.push_str(&format!("time_s{}\n", more.collect::<String>()));
    }
    for line in text.lines() {
        if is_note(line) {
            table.push_str(line);
        } else {
            table.push_str(&line.split_whitespace().collect::<Vec<_>>().join(","));
        }
        table.push('\n');
    }
    (table, u64::from(bare))
}

/// The step of at least two even times, or the row at fault.
#[expect(clippy::cast_precision_loss, reason = "row counts stay far below 2^53")]
pub(crate) fn even_step(times: &[f64]) -> Result<f64, (usize, String)> {
    if let Some(row) = (1..times.len()).find(|&row| times[row] <= times[row - 1]) {
        return Err((
            row,
            format!("time {} follows {}; times must run forwards", times[row], times[row - 1]),
        ));
    }
    let step = (times[times.len() - 1] - times[0]) / (times.len() - 1) as f64;
    let mut typical: Vec<f64> = times.windows(2).map(|pair| pair[1] - pair[0]).collect();
    typical.sort_by(f64::total_cmp);
    let typical = typical[typical.len() / 2];
    // The jump itself is named, not the first row that the mean step puts off the grid.
    let jump = (1..times.len()).find(|&row| (times[row] - times[row - 1] - typical).abs() > 0.5 * typical);
    let drift = || {
        (0..times.len()).find(|&row| (times[row] - times[0] - row as f64 * step).abs() > UNEVEN_SHARE * step)
    };
    match jump.or_else(drift) {
        Some(row) => Err((
            row,
            format!(
                "time {} is off the even steps of {typical}; resample the record to an even rate",
                times[row]
            ),
        )),
        None => Ok(step),
    }
}

fn records(
    path: &Path,
    text: &str,
    delimiter: u8,
    added: u64,
) -> Result<Vec<(u64, csv::StringRecord)>, SensorsError> {
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(delimiter)
        .has_headers(false)
        .flexible(true)
        .comment(Some(b'#'))
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let mut rows: Vec<(u64, csv::StringRecord)> = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|error| file_error(path, None, error.to_string()))?;
        let line = record.position().map_or(0, csv::Position::line).saturating_sub(added);
        if record.iter().all(str::is_empty) {
            continue;
        }
        if let Some((_, head)) = rows.first().filter(|(_, head)| head.len() != record.len()) {
            let problem = format!("{} cells, the header has {}; complete the row", record.len(), head.len());
            return Err(file_error(path, Some(line), problem));
        }
        rows.push((line, record));
    }
    Ok(rows)
}

fn cells(record: &csv::StringRecord) -> Vec<String> {
    record.iter().map(|cell| cell.trim().to_owned()).collect()
}

/// `ax [g]` and `ax (g)` are the column `ax`.
fn without_unit(head: &str) -> &str {
    head.split(['[', '(']).next().unwrap_or_default().trim()
}

fn unit_in(head: &str) -> Option<&str> {
    let (_, rest) = head.split_once(['[', '('])?;
    rest.strip_suffix([']', ')']).map(str::trim).filter(|unit| !unit.is_empty())
}

/// `time_ms` is in milliseconds; a bare `time` is in seconds.
fn unit_after_name(head: &str) -> String {
    let last = head.to_lowercase().rsplit('_').next().unwrap_or_default().to_owned();
    if matches!(last.as_str(), "ms" | "us") { last } else { "s".to_owned() }
}

#[cfg(test)]
mod tests;
