//! A list that comes from the host, and a pointer that moves along one.

use super::keys::Action;

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

/// Moves the first row shown of a text of `count` as a key asks.
pub fn scroll(top: &mut usize, action: Action, count: usize) {
    let rows = match action {
        Action::Up => -1,
        Action::Down => 1,
        Action::PageEarlier => -PAGE_ROWS,
        Action::PageLater => PAGE_ROWS,
        Action::First => isize::MIN,
        Action::Latest => {
            *top = count.saturating_sub(PAGE_ROWS.unsigned_abs());
            return;
        }
        _ => return,
    };
    shift(top, rows, count);
}

/// Rows that a page key moves a text by: what the smallest screen shows of one.
const PAGE_ROWS: isize = 14;
