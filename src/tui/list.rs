//! A list that comes from the host, and a pointer that moves along one.

/// A list that comes from the host.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum Listed<T> {
    #[default]
    Asked,
    There(Vec<T>),
    /// It could not be had: what happened and what to do.
    Failed(String),
}

impl<T: Clone> Listed<T> {
    /// What is there; nothing as long as it is not.
    pub fn items(&self) -> &[T] {
        match self {
            Self::There(items) => items,
            Self::Asked | Self::Failed(_) => &[],
        }
    }

    pub fn from_answer(answer: &Result<Vec<T>, String>) -> Self {
        match answer {
            Ok(items) => Self::There(items.clone()),
            Err(why) => Self::Failed(why.clone()),
        }
    }
}

/// Moves a pointer by so many rows, between the first and the last of `count`.
pub fn shift(pointer: &mut usize, rows: isize, count: usize) {
    *pointer = pointer
        .saturating_add_signed(rows)
        .min(count.saturating_sub(1));
}

/// Rows that a page key moves a text by: what the smallest screen shows of one.
pub const PAGE_ROWS: isize = 14;
