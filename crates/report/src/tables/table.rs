//! A table as its writers see it: columns by name, unit and meaning, and a cell for each row of each.

use std::borrow::Cow;

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kind {
    Text,
    Whole,
    Number,
    Flag,
}

/// One value. A missing one is `Missing`, never a zero or an empty text.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Cell<'a> {
    Missing,
    Text(Cow<'a, str>),
    Whole(u32),
    Number(f64),
    Flag(bool),
}

/// One column.
pub(crate) struct Column<'a> {
    pub(crate) name: &'static str,
    /// Empty for text, and where the unit stands in a column of its own.
    pub(crate) unit: &'static str,
    pub(crate) meaning: &'static str,
    pub(crate) kind: Kind,
    pub(crate) may_miss: bool,
    cell: Box<dyn Fn(usize) -> Cell<'a> + 'a>,
}

impl<'a> Column<'a> {
    /// The value in a row, from 0.
    pub(crate) fn cell(&self, row: usize) -> Cell<'a> {
        (self.cell)(row)
    }
}

/// One table.
pub(crate) struct Table<'a> {
    /// Name of its file and of its spreadsheet.
    pub(crate) name: &'static str,
    /// What its rows are.
    pub(crate) about: &'static str,
    pub(crate) columns: Vec<Column<'a>>,
    pub(crate) n_rows: usize,
}

/// A table in the making, of these rows.
pub(crate) struct Of<'a, Row> {
    rows: &'a [Row],
    columns: Vec<Column<'a>>,
}

impl<'a, Row> Of<'a, Row> {
    pub(crate) fn new(rows: &'a [Row]) -> Self {
        Self { rows, columns: Vec::new() }
    }

    pub(crate) fn table(self, name: &'static str, about: &'static str) -> Table<'a> {
        Table { name, about, columns: self.columns, n_rows: self.rows.len() }
    }

    pub(crate) fn text(self, name: &'static str, meaning: &'static str, get: fn(&Row) -> &str) -> Self {
        self.column((name, "", meaning), (Kind::Text, false), move |row| Cell::Text(get(row).into()))
    }

    /// An empty text counts as missing.
    pub(crate) fn maybe_text(
        self,
        name: &'static str,
        meaning: &'static str,
        get: fn(&Row) -> Option<&str>,
    ) -> Self {
        self.column((name, "", meaning), (Kind::Text, true), move |row| {
            get(row).filter(|text| !text.is_empty()).map_or(Cell::Missing, |text| Cell::Text(text.into()))
        })
    }

    /// A text that is put together.
    pub(crate) fn made_text(
        self,
        name: &'static str,
        meaning: &'static str,
        get: fn(&Row) -> Option<Cow<'_, str>>,
    ) -> Self {
        self.column((name, "", meaning), (Kind::Text, true), move |row| {
            get(row).map_or(Cell::Missing, Cell::Text)
        })
    }

    pub(crate) fn whole(self, name: &'static str, meaning: &'static str, get: fn(&Row) -> u32) -> Self {
        self.column((name, "1", meaning), (Kind::Whole, false), move |row| Cell::Whole(get(row)))
    }

    pub(crate) fn maybe_whole(
        self,
        name: &'static str,
        meaning: &'static str,
        get: fn(&Row) -> Option<u32>,
    ) -> Self {
        self.column((name, "1", meaning), (Kind::Whole, true), move |row| {
            get(row).map_or(Cell::Missing, Cell::Whole)
        })
    }

    pub(crate) fn number(
        self,
        name: &'static str,
        unit: &'static str,
        meaning: &'static str,
        get: fn(&Row) -> f64,
    ) -> Self {
        self.column((name, unit, meaning), (Kind::Number, false), move |row| Cell::Number(get(row)))
    }

    pub(crate) fn maybe(
        self,
        name: &'static str,
        unit: &'static str,
        meaning: &'static str,
        get: fn(&Row) -> Option<f64>,
    ) -> Self {
        self.column((name, unit, meaning), (Kind::Number, true), move |row| {
            get(row).map_or(Cell::Missing, Cell::Number)
        })
    }

    pub(crate) fn flag(self, name: &'static str, meaning: &'static str, get: fn(&Row) -> bool) -> Self {
        self.column((name, "", meaning), (Kind::Flag, false), move |row| Cell::Flag(get(row)))
    }

    fn column(
        mut self,
        (name, unit, meaning): (&'static str, &'static str, &'static str),
        (kind, may_miss): (Kind, bool),
        cell: impl Fn(&'a Row) -> Cell<'a> + 'a,
    ) -> Self {
        let rows = self.rows;
        let cell = Box::new(move |row: usize| rows.get(row).map_or(Cell::Missing, &cell));
        self.columns.push(Column { name, unit, meaning, kind, may_miss, cell });
        self
    }
}
