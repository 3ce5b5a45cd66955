//! What can go wrong between a plan and its papers.

use base::Cancelled;

/// Why papers could not be written or read.
#[derive(Debug, thiserror::Error)]
pub enum PapersError {
    /// The maker stopped the work.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
    /// A file that the pack names is not in it.
    #[error("the pack names `{file}`, but that file is not in it: write the pack again with `treen plan`")]
    Missing {
        /// Path in the pack.
        file: String,
    },
    /// A file of the pack that can't be understood.
    #[error("`{file}` in the pack can't be read: {why}")]
    Unreadable {
        /// Path in the pack.
        file: String,
        /// What is wrong and what was expected.
        why: String,
    },
    /// A plan that holds something no paper can show: a fault of ours.
    #[error("the plan can't be written to `{file}`: {why}")]
    Unwritable {
        /// Path in the pack.
        file: String,
        /// What is wrong.
        why: String,
    },
}

impl PapersError {
    /// A file that can't be understood.
    pub(crate) fn unreadable(file: &str, why: impl ToString) -> Self {
        Self::Unreadable { file: file.to_owned(), why: why.to_string() }
    }

    /// A paper that can't be written.
    pub(crate) fn unwritable(file: &str, why: impl ToString) -> Self {
        Self::Unwritable { file: file.to_owned(), why: why.to_string() }
    }
}
