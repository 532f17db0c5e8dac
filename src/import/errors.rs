//! Why a sheet gives no samples, and which answer of the person would help.

use thiserror::Error;

/// What a person is asked about a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Asks {
    /// The column of the time, or that there is none.
    Time,
    TimeUnit,
    /// The columns of the signals.
    Signals,
    Unit,
    /// Not to say a unit that is none of the heading's.
    UnitOfHeading,
    /// The board's reference and bits, or the signals' unit.
    Board,
}

#[derive(Debug, Error, PartialEq)]
pub enum SamplesError {
    #[error("it has no column `{name}` with numbers. It has {columns}")]
    NoColumn {
        asked: Asks,
        name: String,
        columns: String,
    },
    #[error("which column is the time, or has it none? It has {0}")]
    WhichTime(String),
    #[error(
        "column {0} holds no time that can be read: seconds, milliseconds, or hours:minutes:seconds. Save it as one of these"
    )]
    NoTimes(String),
    #[error("column {0} counts the samples: how many are taken a second?")]
    Counts(String),
    #[error("in which unit is the time in column {name}? Most of its steps are {step}")]
    WhichTimeUnit { name: String, step: f64 },
    #[error(
        "the heading of column {name} says `{unit}`, and only s, ms and us are taken: convert it, unless the heading is wrong"
    )]
    OtherTimeUnit { name: String, unit: String },
    #[error("no column is left for a signal. It has {0}")]
    NoSignal(String),
    #[error("in which unit are the signals: V, mV, or code for what the board's ADC gives?")]
    WhichUnit,
    #[error(
        "the heading of `{name}` says `{unit}`, and only V, mV and codes are taken: convert it, unless the heading is wrong"
    )]
    OtherUnit { name: String, unit: String },
    #[error("the heading of {name} says {heading}, and {asked} was stated")]
    UnitsDiffer {
        name: String,
        heading: String,
        asked: &'static str,
    },
    #[error(
        "`{name}` reaches from {low} to {high} {unit}, and the board's reference is {vref_mv} mV: is the unit right, and the reference?"
    )]
    OffTheRuler {
        name: String,
        low: f64,
        high: f64,
        unit: &'static str,
        vref_mv: f64,
    },
    #[error(
        "`{name}` holds {value} at its row {row}, which is no code from 0 to {most}: are these volts, or has the board more bits?"
    )]
    NoCode {
        name: String,
        value: f64,
        row: usize,
        most: u32,
    },
    #[error(
        "the time in column {name} goes back at its row {row}, from {from} to {to}. Did the board start again there? Then keep the rows before it, or those from it on"
    )]
    Back {
        name: String,
        row: usize,
        from: f64,
        to: f64,
    },
    #[error("its rows with a time and a value make {0} samples: too few for a recording")]
    TooFew(usize),
    #[error("its samples are {0} s in all: is the time's unit right?")]
    Duration(f64),
}

impl SamplesError {
    /// The answer that would help; none where another file is needed.
    pub fn asks(&self) -> Option<Asks> {
        Some(match self {
            Self::NoColumn { asked, .. } => *asked,
            Self::WhichTime(_) | Self::NoTimes(_) | Self::Counts(_) | Self::Back { .. } => {
                Asks::Time
            }
            Self::NoSignal(_) => Asks::Signals,
            Self::WhichUnit | Self::OtherUnit { .. } | Self::NoCode { .. } => Asks::Unit,
            Self::UnitsDiffer { .. } => Asks::UnitOfHeading,
            Self::OffTheRuler { .. } => Asks::Board,
            Self::WhichTimeUnit { .. } | Self::OtherTimeUnit { .. } | Self::Duration(_) => {
                Asks::TimeUnit
            }
            Self::TooFew(_) => return None,
        })
    }
}
