//! Protective devices in a bank, against hand calculations and independent solutions.

mod fault_current;
