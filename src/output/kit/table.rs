//! One table, stated once: its columns, each with its name for programs, its heading for people, and what it says of a
//! row in either; rendered as CSV, on the terminal and on a page.
//!
//! CSV is that of RFC 4180, `.` decimals, units in the header, not rounded. An unknown number is an empty cell, never
//! `NaN`.

use super::words::capital;
use crate::escape;
use crate::summary::Estimate;
use comfy_table::{CellAlignment, presets};
use maud::{Markup, Render, html};

/// How a column looks to people.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Look {
    /// Words, broken where a line ends.
    Words,
    /// Aligned to the right.
    Number,
    /// A figure with its interval, or a date: on one line.
    Whole,
    /// The identifier of an element.
    Id,
    /// The name of a layout, which may be long.
    Name,
    /// What may be as long as a digest.
    Long,
    /// The heading of a row that does not stand first.
    Heading,
}

impl Look {
    fn class(self) -> Option<&'static str> {
        match self {
            Look::Words | Look::Heading => None,
            Look::Number => Some("n"),
            Look::Whole => Some("p"),
            Look::Id => Some("id"),
            Look::Name => Some("name"),
            Look::Long => Some("long"),
        }
    }
}

/// What a cell says to programs: as many cells as its column has names.
pub trait Cells {
    /// The cells; where nothing is known, none.
    fn cells(self) -> Vec<String>;
}

impl Cells for f64 {
    fn cells(self) -> Vec<String> {
        vec![number(self)]
    }
}

macro_rules! as_written {
    ($($kind:ty)*) => { $(impl Cells for $kind {
        fn cells(self) -> Vec<String> {
            vec![self.to_string()]
        }
    })* };
}
as_written!(u64 usize bool String &str &String);

impl Cells for Estimate {
    fn cells(self) -> Vec<String> {
        [self.estimate, self.low, self.high].cells()
    }
}

impl<A: Cells, B: Cells> Cells for (A, B) {
    fn cells(self) -> Vec<String> {
        [self.0.cells(), self.1.cells()].concat()
    }
}

impl<T: Cells> Cells for Option<T> {
    fn cells(self) -> Vec<String> {
        self.map_or_else(Vec::new, Cells::cells)
    }
}

impl<T: Cells, const N: usize> Cells for [T; N] {
    fn cells(self) -> Vec<String> {
        self.into_iter().flat_map(Cells::cells).collect()
    }
}

/// A cell of a page: a look of its own, where it has one, and what stands in it.
pub struct Cell(Option<String>, Markup);

impl Cell {
    /// A cell whose look depends on its row, as that of a verdict.
    pub fn looking(class: impl Into<String>, body: Markup) -> Cell {
        Cell(Some(class.into()), body)
    }
}

impl<T: Render> From<T> for Cell {
    fn from(body: T) -> Cell {
        Cell(None, html! { (body) })
    }
}

/// How people see a column in one medium.
struct View<'a, R, T> {
    heading: String,
    look: Look,
    show: Box<dyn Fn(R) -> T + 'a>,
}

struct Column<'a, R> {
    ids: Vec<String>,
    cells: Box<dyn Fn(R) -> Vec<String> + 'a>,
    terminal: Option<View<'a, R, String>>,
    page: Option<View<'a, R, Cell>>,
}

/// The columns of a table in their order.
pub struct Table<'a, R> {
    columns: Vec<Column<'a, R>>,
    merged: Box<dyn Fn(R) -> Option<&'static str> + 'a>,
    foot: Markup,
}

impl<'a, R: Copy> Table<'a, R> {
    /// A table without columns.
    pub fn new() -> Self {
        Table { columns: Vec::new(), merged: Box::new(|_| None), foot: html! {} }
    }

    /// A column for programs, with its names in the header.
    pub fn column<C: Cells>(
        mut self,
        ids: impl IntoIterator<Item = impl Into<String>>,
        cells: impl Fn(R) -> C + 'a,
    ) -> Self {
        let ids = ids.into_iter().map(Into::into).collect();
        let cells = Box::new(move |row| cells(row).cells());
        self.columns.push(Column { ids, cells, terminal: None, page: None });
        self
    }

    /// A column for people alone, the same on the terminal and on a page.
    pub fn shown(self, heading: &str, look: Look, show: impl Fn(R) -> String + Clone + 'a) -> Self {
        self.for_people().people(heading, look, show)
    }

    /// A column for people alone, on a page alone.
    pub fn on_page<C: Into<Cell>>(self, heading: &str, look: Look, show: impl Fn(R) -> C + 'a) -> Self {
        self.for_people().page(heading, look, show)
    }

    /// A column for programs and a page: one value, and how it is shown.
    pub fn both<V: Cells, C: Into<Cell>>(
        self,
        (ids, heading): (impl IntoIterator<Item = impl Into<String>>, &str),
        look: Look,
        value: impl Fn(R) -> V + Clone + 'a,
        show: impl Fn(V) -> C + 'a,
    ) -> Self {
        self.column(ids, value.clone()).page(heading, look, move |row| show(value(row)))
    }

    /// A column for people alone.
    pub fn for_people(self) -> Self {
        self.column([""; 0], |_| [0.0; 0])
    }

    /// What people see of the last column, the same on the terminal and on a page, where its heading begins with a
    /// capital.
    pub fn people(self, heading: &str, look: Look, show: impl Fn(R) -> String + Clone + 'a) -> Self {
        self.terminal(heading, look, show.clone()).page(&capital(heading), look, show)
    }

    /// What the terminal shows of the last column.
    pub fn terminal<S: Into<String>>(mut self, heading: &str, look: Look, show: impl Fn(R) -> S + 'a) -> Self {
        if let Some(column) = self.columns.last_mut() {
            let show = Box::new(move |row| show(row).into());
            column.terminal = Some(View { heading: heading.to_owned(), look, show });
        }
        self
    }

    /// What a page shows of the last column.
    pub fn page<C: Into<Cell>>(mut self, heading: &str, look: Look, show: impl Fn(R) -> C + 'a) -> Self {
        if let Some(column) = self.columns.last_mut() {
            let show = Box::new(move |row| show(row).into());
            column.page = Some(View { heading: heading.to_owned(), look, show });
        }
        self
    }

    /// The terminal shows the last column only where it has something to say.
    pub fn terminal_if(mut self, said: bool) -> Self {
        if let Some(column) = self.columns.last_mut().filter(|_| !said) {
            column.terminal = None;
        }
        self
    }

    /// A page shows the last column only where it has something to say.
    pub fn page_if(mut self, said: bool) -> Self {
        if let Some(column) = self.columns.last_mut().filter(|_| !said) {
            column.page = None;
        }
        self
    }

    /// On a page, what stands in place of all cells of a row but the first.
    pub fn merged(mut self, words: impl Fn(R) -> Option<&'static str> + 'a) -> Self {
        self.merged = Box::new(words);
        self
    }

    /// On a page, a last row that is none of the table's own.
    pub fn foot(mut self, row: Markup) -> Self {
        self.foot = row;
        self
    }

    /// For programs.
    pub fn to_csv(&self, rows: impl IntoIterator<Item = R>) -> String {
        let header = self.columns.iter().flat_map(|c| &c.ids).cloned().collect();
        let cells = |c: &Column<'a, R>, row: R| {
            let mut cells = (c.cells)(row);
            cells.resize(c.ids.len(), String::new());
            cells
        };
        let rows = rows.into_iter().map(|row| self.columns.iter().flat_map(|c| cells(c, row)).collect());
        text(std::iter::once(header).chain(rows))
    }

    /// For the terminal: lines as wide as the widest, blanks at their ends.
    pub fn to_terminal(&self, rows: impl IntoIterator<Item = R>) -> String {
        let views: Vec<_> = self.columns.iter().filter_map(|c| c.terminal.as_ref()).collect();
        let mut grid = comfy_table::Table::new();
        grid.load_style(presets::NOTHING);
        grid.set_header(views.iter().map(|view| &view.heading));
        for row in rows {
            grid.add_row(views.iter().map(|view| (view.show)(row)));
        }
        for (column, _) in grid.column_iter_mut().zip(&views).filter(|(_, view)| view.look == Look::Number) {
            column.set_cell_alignment(CellAlignment::Right);
        }
        grid.to_string()
    }

    /// The same without blanks at the ends of lines.
    pub fn to_lines(&self, rows: impl IntoIterator<Item = R>) -> String {
        self.to_terminal(rows).lines().map(|line| format!("{}\n", line.trim_end())).collect()
    }

    /// For a page, with its caption; `number` is empty where it needs none.
    pub fn to_page(&self, caption: &str, number: &str, rows: impl IntoIterator<Item = R>) -> Markup {
        let views: Vec<_> = self.columns.iter().filter_map(|c| c.page.as_ref()).collect();
        let heading = views.iter().position(|view| view.look == Look::Heading).unwrap_or(0);
        html! {
            div.scroll tabindex="0" role="region" aria-label=(caption) {
                table {
                    caption { @if !number.is_empty() { b { "Table " (number) ". " } } (caption) }
                    thead { tr { @for view in &views {
                        th class=[view.look.class().filter(|_| view.look == Look::Number)] scope="col" { (view.heading) }
                    } } }
                    tbody {
                        @for row in rows { tr { (self.cells(&views, heading, row)) } }
                        (self.foot)
                    }
                }
            }
        }
    }

    fn cells(&self, views: &[&View<'a, R, Cell>], heading: usize, row: R) -> Markup {
        let merged = (self.merged)(row);
        let told = if merged.is_some() { 1 } else { views.len() };
        html! {
            @for (k, view) in views.iter().take(told).enumerate() {
                @let Cell(own, body) = (view.show)(row);
                @let class = own.as_deref().or(view.look.class());
                @if k == heading { th class=[class] scope="row" { (body) } } @else { td class=[class] { (body) } }
            }
            @if let Some(words) = merged { td colspan=(views.len() - 1) { (words) } }
        }
    }
}

/// The shortest decimal that reads back as the same number; with an exponent where it would begin with zeros.
fn number(x: f64) -> String {
    match x {
        x if !x.is_finite() => String::new(),
        x if x != 0.0 && x.abs() < 1e-6 => format!("{x:e}"),
        // Zero has no sign.
        x => (x + 0.0).to_string(),
    }
}

/// The one writer of CSV.
fn text(rows: impl Iterator<Item = Vec<String>>) -> String {
    let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).flexible(true).from_writer(Vec::new());
    for row in rows {
        // Writing into memory does not fail, and rows of any length are taken.
        let _ = writer.write_record(row.iter().map(|cell| escape::spreadsheet(cell)));
    }
    let bytes = writer.into_inner().unwrap_or_default();
    String::from_utf8(bytes).unwrap_or_default()
}
