//! What all panels of a night share: its record, its time axis, their headings.

use super::events::Mark;
use crate::engine::record::Record;
use crate::output::kit::chart::prelude::*;

/// Room for the numbers of events above the first panel.
const MARKS: f64 = 22.0;

/// What all panels share.
pub struct Night<'a> {
    pub record: &'a Record,
    pub hours: f64,
    /// Clock time of the start [h after midnight], where there is a calendar.
    pub start: Option<f64>,
    pub marks: Vec<Mark>,
}

impl Night<'_> {
    /// Room that the numbers of events take above the first panel.
    pub fn above(&self) -> f64 {
        if self.marks.is_empty() { 0.0 } else { MARKS }
    }

    /// A panel under its heading; only the last one carries the labels of the time axis.
    pub fn panel<'s>(&self, sheet: &Sheet<'s>, frame: Frame, y: &Axis, last: bool) -> Result<Panel<'s>, ChartError> {
        let mut x = Axis::clock(self.hours, self.start);
        if !last {
            x.show = Box::new(|_| String::new());
            x.name = String::new();
        }
        canvas::panel(sheet, frame, &x, y)
    }
}

/// Above a panel.
pub fn heading(sheet: &Sheet, frame: Frame, text: &str) -> Drawn {
    write_bold(sheet, text, (6.0, frame.top - 14.0), Ink::Text, Align::Start)
}
