//! One page for one folder: a hidden file, locked as long as the server runs, that says where the page is.

use crate::Trouble;
use std::fs::{File, OpenOptions, TryLockError};
use std::io::{Read, Seek, Write};
use std::path::{Path, PathBuf};

/// Its name in the folder.
const NAME: &str = ".treen-page";

/// The lock; taken away when it is dropped.
#[derive(Debug)]
pub(super) struct Lock {
    file: File,
    path: PathBuf,
}

impl Lock {
    /// Takes the lock of a folder.
    pub(super) fn take(folder: &Path) -> Result<Self, Trouble> {
        let path = folder.join(NAME);
        let cannot = |e: &dyn std::fmt::Display| {
            let text = format!("the folder {} can't be worked in: {e}", folder.display());
            Trouble::input(text, "name a folder that you may write to")
        };
        if std::fs::symlink_metadata(&path).is_ok_and(|meta| !meta.is_file()) {
            return Err(cannot(&format!("{NAME} in it is no plain file")));
        }
        let mut options = OpenOptions::new();
        let mut file =
            options.read(true).write(true).create(true).truncate(false).open(&path).map_err(|e| cannot(&e))?;
        match file.try_lock() {
            Ok(()) => Ok(Self { file, path }),
            Err(TryLockError::WouldBlock) => {
                let mut address = String::new();
                let _ = Read::by_ref(&mut file).take(200).read_to_string(&mut address);
                let address: String = address.chars().filter(|c| !c.is_control()).collect();
                let text = format!("the page of {} is open already, at {address}", folder.display());
                Err(Trouble::input(text, "open that address in the browser, or end the other with Ctrl-C"))
            }
            Err(TryLockError::Error(e)) => Err(cannot(&e)),
        }
    }

    /// Writes down where the page is.
    pub(super) fn tell(&mut self, address: &str) -> Result<(), Trouble> {
        let written = self.file.set_len(0).and_then(|()| self.file.rewind()).and_then(|()| {
            self.file.write_all(address.as_bytes())?;
            self.file.flush()
        });
        written.map_err(|e| Trouble::input(format!("{}: {e}", self.path.display()), "look whether the disk has room"))
    }
}

impl Drop for Lock {
    fn drop(&mut self) {
        let _ = std::fs::remove_file(&self.path);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_second_start_is_told_where_the_first_is() {
        let home = tempfile::tempdir().unwrap();
        let mut first = Lock::take(home.path()).unwrap();
        first.tell("http://127.0.0.1:7777").unwrap();
        match Lock::take(home.path()) {
            Err(Trouble::Input(text)) => assert!(text.contains("http://127.0.0.1:7777"), "{text}"),
            other => panic!("{other:?}"),
        }
        drop(first);
        assert!(!home.path().join(NAME).exists());
        Lock::take(home.path()).unwrap();
    }
}
