//! The bytes of a file, whatever it is: a file, a pipe, a device.
//!
//! In: a path. Out: a reader that never waits for good. To open a pipe that nobody writes, and to read from one, can take
//! for ever, so a thread of its own does that for everything but plain files; it is left behind where it does not answer.

use crate::bounds;
use std::fs::{self, File};
use std::io::{self, Read};
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, RecvTimeoutError, SyncSender, sync_channel};
use std::time::Duration;

/// Bytes that are handed over at once.
const PIECE: usize = 1 << 16;

/// A file to read.
///
/// # Errors
/// It is not there, or may not be read, or is a folder.
pub fn open(path: &Path) -> io::Result<Box<dyn Read>> {
    let what = fs::metadata(path)?;
    if what.is_dir() {
        return Err(io::Error::other("it is a folder, and a file is wanted"));
    }
    if what.is_file() { Ok(Box::new(File::open(path)?)) } else { Ok(Box::new(Patient::new(path.to_owned()))) }
}

/// At most so many bytes and one more, or as far as the first that is zero: no text goes on behind it.
///
/// # Errors
/// Of the reader.
pub fn text_up_to(most: u64, mut from: impl Read) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    while bytes.len() as u64 <= most {
        let before = bytes.len();
        let room = (most + 1).saturating_sub(before as u64).min(PIECE as u64);
        from.by_ref().take(room).read_to_end(&mut bytes)?;
        if bytes.len() == before || bytes[before..].contains(&0) {
            break;
        }
    }
    Ok(bytes)
}

/// What a thread of its own reads.
struct Patient {
    pieces: Receiver<io::Result<Vec<u8>>>,
    piece: io::Cursor<Vec<u8>>,
    ended: bool,
}

impl Patient {
    fn new(path: PathBuf) -> Patient {
        let (into, pieces) = sync_channel(2);
        std::thread::spawn(move || feed(&path, &into));
        Patient { pieces, piece: io::Cursor::default(), ended: false }
    }
}

/// Hands over a file piece by piece until it ends, fails, or nobody wants it any more.
fn feed(path: &Path, into: &SyncSender<io::Result<Vec<u8>>>) {
    let mut file = match File::open(path) {
        Ok(file) => file,
        Err(why) => return drop(into.send(Err(why))),
    };
    loop {
        let mut piece = vec![0; PIECE];
        let read = file.read(&mut piece).map(|length| {
            piece.truncate(length);
            piece
        });
        let over = read.as_ref().map_or_else(|why| why.kind() != io::ErrorKind::Interrupted, Vec::is_empty);
        if into.send(read).is_err() || over {
            return;
        }
    }
}

impl Read for Patient {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        while !self.ended && self.piece.position() == self.piece.get_ref().len() as u64 {
            match self.pieces.recv_timeout(Duration::from_secs(bounds::SILENCE)) {
                Ok(Ok(piece)) => {
                    self.ended = piece.is_empty();
                    self.piece = io::Cursor::new(piece);
                }
                Ok(Err(why)) if why.kind() == io::ErrorKind::Interrupted => {}
                Ok(Err(why)) => return Err(why),
                Err(RecvTimeoutError::Disconnected) => self.ended = true,
                Err(RecvTimeoutError::Timeout) => return Err(silent()),
            }
        }
        self.piece.read(into)
    }
}

fn silent() -> io::Error {
    let seconds = bounds::SILENCE;
    io::Error::other(format!(
        "nothing came through this pipe for {seconds} s; start what writes to it first, or give a file instead"
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_more_is_read_than_is_wanted() {
        assert_eq!(text_up_to(3, &b"abc"[..]).unwrap(), b"abc");
        assert_eq!(text_up_to(3, &b"abcdefgh"[..]).unwrap(), b"abcd");
        assert!(text_up_to(1 << 30, io::repeat(0)).unwrap().len() <= PIECE);
    }

    #[test]
    fn a_folder_is_told_from_a_file() {
        let folder = tempfile::tempdir().unwrap();
        let why = open(folder.path()).map(|_| ()).unwrap_err();
        assert!(why.to_string().contains("folder"), "{why}");
        assert_eq!(open(Path::new("/nowhere")).map(|_| ()).unwrap_err().kind(), io::ErrorKind::NotFound);
    }

    #[cfg(unix)]
    #[test]
    fn a_pipe_is_read_to_its_end() {
        let text = b"format = 1\n".repeat(20_000);
        let (reader, mut writer) = io::pipe().unwrap();
        let path = format!("/dev/fd/{}", std::os::fd::AsRawFd::as_raw_fd(&reader));
        let written = text.clone();
        let writing = std::thread::spawn(move || io::Write::write_all(&mut writer, &written));
        let read = text_up_to(1 << 20, open(Path::new(&path)).unwrap()).unwrap();
        writing.join().unwrap().unwrap();
        assert!(read == text);
    }
}
