//! A profile's file as text, and the faults found in it.
//!
//! In: a path, gzipped or not (told by the first two bytes, RFC 1952). Out: text without a
//! byte-order mark, with the SHA-256 of the file's bytes as they are; faults at their places.

use super::fill::TooFew;
use super::{ProfileError, Reading};
use crate::diagnostic::{Diagnostic, Severity, SourceText};
use flate2::read::MultiGzDecoder;
use sha2::{Digest, Sha256};
use std::fs::File;
use std::io::{self, Read};
use std::ops::Range;
use std::path::Path;
use std::sync::Arc;

/// More than a century of minutes: anything longer is no profile [bytes].
const MAX_BYTES: u64 = 1 << 28;

/// Faults that are shown for one file; the rest are counted.
const SHOWN_FAULTS: usize = 20;

/// The text of one file.
#[derive(Debug)]
pub(super) struct Text {
    source: Arc<SourceText>,
    /// SHA-256 of the file's bytes, in hexadecimal.
    digest: String,
}

impl Text {
    /// # Errors
    /// `Unreadable`: no such file, not gzip although it begins so, too long, empty, binary.
    pub fn open(path: &Path, shown: &str) -> Result<Text, ProfileError> {
        let read = File::open(path).and_then(read_all);
        let bytes = read.map_err(|why| ProfileError::Unreadable(format!("cannot read `{shown}`: {why}")))?;
        Text::from_bytes(&bytes, shown).map_err(ProfileError::Unreadable)
    }

    /// As `open`, from the bytes of the file.
    pub fn from_bytes(bytes: &[u8], shown: &str) -> Result<Text, String> {
        let digest = format!("{:x}", Sha256::digest(bytes));
        let plain = if bytes.starts_with(&[0x1f, 0x8b]) {
            let unpacked = read_all(MultiGzDecoder::new(bytes));
            unpacked.map_err(|why| format!("cannot unpack `{shown}`, which begins as gzip does: {why}"))?
        } else {
            bytes.to_vec()
        };
        let text = decode(&plain).map_err(|why| format!("`{shown}` {why}"))?;
        Ok(Text { source: Arc::new(SourceText { name: shown.to_owned(), text }), digest })
    }

    pub fn as_str(&self) -> &str {
        &self.source.text
    }

    /// The name for people.
    pub fn name(&self) -> &str {
        &self.source.name
    }

    pub fn name_and_digest(&self) -> (String, String) {
        (self.source.name.clone(), self.digest.clone())
    }

    /// A place to gather this file's faults.
    pub fn faults(&self) -> Faults {
        Faults { source: Arc::clone(&self.source), kept: Vec::new(), more: None }
    }

    /// The only fault of this file.
    pub fn fault(&self, span: Range<usize>, message: String, label: &str, help: &str) -> Diagnostic {
        error(&self.source, span, message, label, help)
    }

    /// The fault of a file with less than two values.
    pub fn too_few(&self, few: TooFew, readings: &[Reading]) -> Diagnostic {
        let message = match few {
            TooFew::None => "no row has a value",
            TooFew::One(_) => "only one row has a value, which cannot say how long it lasts",
        };
        let span = readings.get(few.row()).map_or(0..0, |reading| reading.span.clone());
        self.fault(span, message.to_owned(), "a profile needs two at least", "add a row for each change")
    }

    /// Each line without its end, and its place.
    pub fn lines(&self) -> impl Iterator<Item = (usize, &str)> {
        let mut at = 0;
        self.as_str().split_inclusive('\n').map(move |line| {
            let start = at;
            at += line.len();
            (start, line.trim_end_matches(['\n', '\r']))
        })
    }
}

/// `help` may be empty.
fn error(source: &Arc<SourceText>, span: Range<usize>, message: String, label: &str, help: &str) -> Diagnostic {
    Diagnostic {
        severity: Severity::Error,
        message,
        source: Arc::clone(source),
        span,
        label: label.to_owned(),
        help: (!help.is_empty()).then(|| help.to_owned()),
    }
}

/// All bytes, unless there are more than any profile has.
fn read_all(from: impl Read) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    from.take(MAX_BYTES + 1).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > MAX_BYTES {
        return Err(io::Error::other(format!("more than {} MiB", MAX_BYTES >> 20)));
    }
    Ok(bytes)
}

/// UTF-8 without a byte-order mark. Stray bytes of an older encoding become U+FFFD: they may stand
/// in a header or a place name that nothing depends on, and are faults anywhere else.
fn decode(bytes: &[u8]) -> Result<String, String> {
    if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) {
        return Err("is in UTF-16: save it as UTF-8".into());
    }
    if bytes.contains(&0) {
        return Err("is not a text file".into());
    }
    let text = String::from_utf8_lossy(bytes);
    let text = text.strip_prefix('\u{feff}').unwrap_or(&text);
    if text.trim().is_empty() {
        return Err("is empty".into());
    }
    Ok(text.to_owned())
}

/// Faults of one file, the first twenty in full.
#[derive(Debug)]
pub(super) struct Faults {
    source: Arc<SourceText>,
    kept: Vec<Diagnostic>,
    /// Place of the first fault that is not shown, and how many there are.
    more: Option<(Range<usize>, usize)>,
}

impl Faults {
    /// `help` may be empty.
    pub fn add(&mut self, span: Range<usize>, message: String, label: &str, help: &str) {
        if self.kept.len() < SHOWN_FAULTS {
            self.kept.push(error(&self.source, span, message, label, help));
        } else {
            let (first, count) = self.more.take().unwrap_or((span, 0));
            self.more = Some((first, count + 1));
        }
    }

    /// # Errors
    /// The faults, if there are any.
    pub fn none_or<T>(self, value: T) -> Result<T, Vec<Diagnostic>> {
        if self.kept.is_empty() { Ok(value) } else { Err(self.list()) }
    }

    pub fn is_empty(&self) -> bool {
        self.kept.is_empty()
    }

    /// The faults, and one that counts those which are not among them.
    pub fn list(mut self) -> Vec<Diagnostic> {
        if let Some((span, count)) = self.more.take() {
            let message = format!("{count} more faults in `{}`", self.source.name);
            self.kept.push(error(&self.source, span, message, "the first of them", ""));
        }
        self.kept
    }

    /// A fault at each reading that does not come after the one before it.
    pub fn check_rising(&mut self, readings: &[Reading]) {
        for pair in readings.windows(2) {
            let [before, this] = pair else { continue };
            if this.time > before.time {
                continue;
            }
            let message = if this.time == before.time { "this time repeats the row before" } else { "time goes back" };
            self.add(
                this.span.clone(),
                message.to_owned(),
                "expected a later time than in the row before",
                "times are local standard time; where clocks change, give each time its offset, such as +01:00",
            );
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Write;

    fn refused(bytes: &[u8]) -> String {
        Text::from_bytes(bytes, "a.csv").map(|_| ()).unwrap_err()
    }

    fn packed(bytes: &[u8]) -> Vec<u8> {
        let mut packer = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
        packer.write_all(bytes).unwrap();
        packer.finish().unwrap()
    }

    #[test]
    fn files_that_are_no_text_are_refused() {
        assert_eq!(refused(b""), "`a.csv` is empty");
        assert_eq!(refused(b"\xef\xbb\xbf \r\n"), "`a.csv` is empty");
        assert_eq!(refused(b"PK\x03\x04\x00\x00"), "`a.csv` is not a text file");
        assert_eq!(refused(b"\xff\xfeh\x00"), "`a.csv` is in UTF-16: save it as UTF-8");
        assert!(refused(b"\x1f\x8bxx").starts_with("cannot unpack `a.csv`, which begins as gzip does: "));
        let whole = packed(b"hours,power\n0,1\n");
        assert!(refused(&whole[..whole.len() - 9]).starts_with("cannot unpack"));
    }

    #[test]
    fn gzip_and_marks_leave_the_text_and_change_the_digest() {
        let plain = Text::from_bytes(b"hours,power\n", "a").unwrap();
        let zipped = Text::from_bytes(&packed(b"\xef\xbb\xbfhours,power\n"), "a").unwrap();
        assert_eq!(plain.as_str(), zipped.as_str());
        assert_ne!(plain.digest, zipped.digest);
        // `printf 'hours,power\n' | sha256sum`
        assert_eq!(plain.digest, "c92b2d3ee2b8885417cee7ab94faed74fb849af4e7ad8ef084fecccb9fbdeafc");
    }

    #[test]
    fn lines_know_their_places() {
        let text = Text::from_bytes(b"a\r\nbc\n\nd", "a").unwrap();
        assert_eq!(text.lines().collect::<Vec<_>>(), [(0, "a"), (3, "bc"), (6, ""), (7, "d")]);
    }

    #[test]
    fn beyond_twenty_faults_are_counted() {
        let text = Text::from_bytes(b"a", "a.csv").unwrap();
        let mut faults = text.faults();
        for _ in 0..25 {
            faults.add(0..1, "wrong".into(), "here", "");
        }
        let list = faults.none_or(()).unwrap_err();
        assert_eq!(list.len(), 21);
        assert_eq!(list[20].message, "5 more faults in `a.csv`");
    }
}
