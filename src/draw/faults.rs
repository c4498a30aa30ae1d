use crate::time::Time;
#[derive(Clone, Debug)]
pub struct Timeline {
    pub down_at_start: bool,
    pub changes: Vec<Time>,
}
