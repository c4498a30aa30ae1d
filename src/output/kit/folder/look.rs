//! What stands at a path, looked at without following links and without opening anything but plain files.

use super::error::FolderError;
use sha2::{Digest, Sha256};
use std::fs::{self, File, FileType};
use std::io::{self, Read};
use std::path::Path;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Found {
    Nothing,
    /// A plain file.
    File,
    Folder,
    /// Anything else, in words.
    Other(&'static str),
}

impl Found {
    /// For a message: `a folder`.
    pub fn words(self) -> &'static str {
        match self {
            Found::Nothing => "nothing",
            Found::File => "a file",
            Found::Folder => "a folder",
            Found::Other(words) => words,
        }
    }
}

/// # Errors
/// `Listing` where the system does not say.
pub fn look(path: &Path) -> Result<Found, FolderError> {
    match fs::symlink_metadata(path) {
        Ok(found) => Ok(kind(found.file_type())),
        Err(reason) if reason.kind() == io::ErrorKind::NotFound => Ok(Found::Nothing),
        Err(reason) => Err(FolderError::Listing { path: path.to_path_buf(), reason }),
    }
}

fn kind(of: FileType) -> Found {
    #[cfg(unix)]
    {
        use std::os::unix::fs::FileTypeExt;
        if of.is_fifo() {
            return Found::Other("a pipe");
        }
        if of.is_socket() {
            return Found::Other("a socket");
        }
    }
    match (of.is_symlink(), of.is_dir(), of.is_file()) {
        (true, ..) => Found::Other("a symbolic link"),
        (_, true, _) => Found::Folder,
        (_, _, true) => Found::File,
        _ => Found::Other("a device"),
    }
}

/// SHA-256 in hexadecimal digits.
pub fn digest(bytes: &[u8]) -> String {
    hex(&Sha256::digest(bytes))
}

/// The same of a plain file, piece by piece.
///
/// # Errors
/// `Listing` where it cannot be read.
pub fn digest_of(path: &Path) -> Result<String, FolderError> {
    let whole = || -> io::Result<String> {
        let (mut file, mut hash, mut piece) = (File::open(path)?, Sha256::new(), vec![0; 1 << 16]);
        loop {
            match file.read(&mut piece)? {
                0 => return Ok(hex(&hash.finalize())),
                n => hash.update(&piece[..n]),
            }
        }
    };
    whole().map_err(|reason| FolderError::Listing { path: path.to_path_buf(), reason })
}

/// At most so many bytes of a plain file from its start; `None` where there is no such file or it cannot be read.
pub fn start_of(path: &Path, most: u64) -> Option<Vec<u8>> {
    let mut bytes = Vec::new();
    if look(path).ok()? != Found::File {
        return None;
    }
    File::open(path).ok()?.take(most).read_to_end(&mut bytes).ok()?;
    Some(bytes)
}

fn hex(digest: &[u8]) -> String {
    digest.iter().map(|byte| format!("{byte:02x}")).collect()
}
