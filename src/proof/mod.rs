//! The flashed board held against its block: what it put out, beside what the numbers say.
//!
//! From the ground up: `samples` are codes of the measuring board and what they can mean to the blending board; `plausibility`
//! says whether a sample is good to the core; `envelope` and `bounds` run the twin twice, as low and as high as the readings
//! allow; `settled` finds where the inputs stood still; `figures` and `findings` are made of both, `compare` puts all
//! of a `setup` together; `trials` lists the faults that were asked for, `rounds` judges them, `believed` those that the block cannot
//! notice; `guide` leads a person through them, `marks` is the file that says which fault was which; `claims` says of every number
//! of the block whether the capture shows it.

mod believed;
mod bounds;
mod claims;
mod compare;
mod envelope;
mod figures;
mod findings;
mod guide;
mod marks;
mod plausibility;
mod result;
mod rounds;
mod samples;
mod settled;
mod setup;
mod trials;

pub use claims::{describe as describe_claim, fault_words};
pub use compare::prove;
pub use guide::{Guide, GuideSample, Stage};
pub use marks::{Fault, Marks, Trial, marks_schema_json};
#[cfg(feature = "inside")]
pub use marks::{Mark, MarkKind};
pub use result::{Claim, ClaimState, Finding, Proof, Round, Row, schema_json};
pub use samples::{Mismatch, Samples, Scaling};
pub use setup::{Foretold, ProofConditions, ProofSetup};

#[cfg(test)]
mod known_answers;
#[cfg(test)]
mod testing;
