//! Where results came from, as a page tells it.

use crate::escape;
use crate::output::kit::design::Provenance;
use crate::scenario::check::Checked;
use std::path::Path;

pub struct Origin {
    scenario_file: String,
    digest: String,
    /// Profiles with the SHA-256 of each.
    pub files: Vec<(String, String)>,
    gaps: Vec<String>,
    from_memory: Vec<String>,
}

impl Origin {
    pub fn of(scenario_file: &Path, checked: &Checked) -> Origin {
        let sources = || checked.scenario.sources();
        Origin {
            scenario_file: escape::path(scenario_file),
            digest: checked.digest.clone(),
            files: sources().flat_map(|s| s.files.iter().cloned()).collect(),
            gaps: sources().flat_map(|s| s.gaps.iter().cloned()).collect(),
            from_memory: checked.from_memory(),
        }
    }

    pub fn provenance(&self) -> Provenance<'_> {
        Provenance {
            version: concat!("bankwright ", env!("CARGO_PKG_VERSION")),
            scenario_file: &self.scenario_file,
            digest: &self.digest,
            files: &self.files,
            gaps: &self.gaps,
            from_memory: &self.from_memory,
        }
    }
}
