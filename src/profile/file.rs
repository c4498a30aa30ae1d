//! A profile's file as text, and the faults found in it.
//!
//! In: a path, gzipped or not (recognised by the first two bytes, RFC 1952). Out: text without a
//! byte-order mark, with the SHA-256 of the file's bytes as they are; faults at their places.

use super::fill::TooFew;
use super::types::{ProfileError, Reading};
use crate::bounds::{self, grouped};
use crate::diagnostic::{Diagnostic, Fault, Severity, SourceText};
use crate::intake;
use flate2::read::MultiGzDecoder;
use sha2::{Digest, Sha256};
use std::io::{self, Read};
use std::ops::Range;
use std::path::Path;
use std::sync::Arc;

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
        Text::open_up_to(bounds::PROFILE_BYTES, path, shown).map_err(|why| ProfileError::Unreadable { file: 0, why })
    }

    /// Opens like `open` a text of at most `most` bytes.
    pub fn open_up_to(most: u64, path: &Path, shown: &str) -> Result<Text, String> {
        let file = intake::open(path).map_err(|why| format!("cannot read `{shown}`: {why}"))?;
        Text::of_reader(most, file, shown)
    }

    /// Reads like `open`, from the bytes of the file.
    #[cfg(test)]
    pub fn from_bytes(bytes: &[u8], shown: &str) -> Result<Text, String> {
        Text::of_reader(bounds::PROFILE_BYTES, bytes, shown)
    }

    fn of_reader(most: u64, from: impl Read, shown: &str) -> Result<Text, String> {
        let mut file = Digested { from: from.take(bounds::PROFILE_BYTES + 1), hash: Sha256::new() };
        let cannot_read = |why: io::Error| format!("cannot read `{shown}`: {why}");
        let start = intake::text_up_to(1, file.by_ref().take(2)).map_err(cannot_read)?;
        let whole = start.chain(&mut file);
        let bytes = if start == GZIP {
            let unpacked = intake::text_up_to(most, MultiGzDecoder::new(whole));
            unpacked.map_err(|why| format!("cannot unpack `{shown}`, which begins as gzip does: {why}"))?
        } else {
            intake::text_up_to(most, whole).map_err(cannot_read)?
        };
        if bytes.len() as u64 > most {
            return Err(too_long(shown));
        }
        let text = decode(bytes).map_err(|why| format!("`{shown}` {why}"))?;
        let digest = format!("{:x}", file.hash.finalize());
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
    pub fn fault(&self, fault: Fault, span: Range<usize>, message: String, label: &str, help: &str) -> Diagnostic {
        error((&self.source, fault), span, message, label, help)
    }

    /// The fault of a file with less than two values.
    pub fn too_few(&self, few: TooFew, readings: &[Reading]) -> Diagnostic {
        let message = match few {
            TooFew::None => "no row has a value",
            TooFew::One(_) => "only one row has a value, which cannot say how long it lasts",
        };
        let span = readings.get(few.row()).map_or(0..0, Reading::span);
        let (label, help) = ("a profile needs two at least", "add a row for each change");
        self.fault(Fault::Missing, span, message.to_owned(), label, help)
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
fn error(
    (source, fault): (&Arc<SourceText>, Fault),
    span: Range<usize>,
    message: String,
    label: &str,
    help: &str,
) -> Diagnostic {
    Diagnostic {
        severity: Severity::Error,
        fault,
        message,
        source: Arc::clone(source),
        span,
        label: label.to_owned(),
        help: (!help.is_empty()).then(|| help.to_owned()),
    }
}

/// The first two bytes of a gzip file (RFC 1952).
const GZIP: [u8; 2] = [0x1f, 0x8b];

/// A file whose bytes are digested as they are read.
struct Digested<R> {
    from: R,
    hash: Sha256,
}

impl<R: Read> Read for Digested<R> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let length = self.from.read(into)?;
        self.hash.update(&into[..length]);
        Ok(length)
    }
}

fn too_long(shown: &str) -> String {
    format!(
        "with `{shown}` this profile is longer than {} MiB of text: leave out years or columns that are not needed, or \
         take longer steps",
        bounds::PROFILE_BYTES >> 20
    )
}

/// UTF-8 without a byte-order mark. Stray bytes of an older encoding become U+FFFD: they may stand
/// in a header or a place name that nothing depends on, and are faults anywhere else.
fn decode(bytes: Vec<u8>) -> Result<String, String> {
    if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) {
        return Err("is in UTF-16: save it as UTF-8".into());
    }
    if bytes.contains(&0) {
        return Err("is not a text file".into());
    }
    let mut text = String::from_utf8(bytes).unwrap_or_else(|not| String::from_utf8_lossy(not.as_bytes()).into_owned());
    if text.starts_with('\u{feff}') {
        text.drain(..'\u{feff}'.len_utf8());
    }
    if text.trim().is_empty() {
        return Err("is empty".into());
    }
    if text.contains('\r') && !text.contains('\n') {
        return Err("has lines that end in carriage returns alone: save it with the line ends of today".into());
    }
    Ok(text)
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
    /// A cell that is not what is wanted there; `help` may be empty.
    pub fn add(&mut self, span: Range<usize>, message: String, label: &str, help: &str) {
        self.add_of(Fault::Cell, span, message, label, help);
    }

    /// `help` may be empty.
    pub fn add_of(&mut self, fault: Fault, span: Range<usize>, message: String, label: &str, help: &str) {
        if self.kept.len() < SHOWN_FAULTS {
            self.kept.push(error((&self.source, fault), span, message, label, help));
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
            self.kept.push(error((&self.source, Fault::TooMuch), span, message, "the first of them", ""));
        }
        self.kept
    }

    /// A file or list with more rows than a profile may have.
    pub fn too_many_rows(&mut self, span: Range<usize>) {
        let message = format!("this profile has more than {} rows", grouped(bounds::PROFILE_ROWS as u64));
        let help = "leave out years that are not needed, or take longer steps; a century by the quarter hour fits";
        self.add_of(Fault::TooMuch, span, message, "the first row too many", help);
    }

    /// A fault at each reading that does not come after the one before it.
    pub fn check_rising(&mut self, readings: &[Reading]) {
        for pair in readings.windows(2) {
            let [before, this] = pair else { continue };
            if this.time > before.time {
                continue;
            }
            let (fault, message) = match this.time == before.time {
                true => (Fault::Duplicate, "this time repeats the row before"),
                false => (Fault::OutOfRange, "time goes back"),
            };
            self.add_of(
                fault,
                this.span(),
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
        assert_eq!(refused(b"hours,power\n0,\x001\n"), "`a.csv` is not a text file");
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
