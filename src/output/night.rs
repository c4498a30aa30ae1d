//! One night as it was computed: its table and its chart.

pub mod chart;
pub mod table;
