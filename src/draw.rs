pub mod faults;
