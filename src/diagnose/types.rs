//! A diagnosis as values: causes, dangers of the wiring, the headline.

use measure::figure::numbers::{fixed, four_digits};
use measure::units::Trial;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::fmt;

/// What is wrong, in a word of DESIGN 4.4a.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "kebab-case")]
pub enum CauseWord {
    /// Noise that comes back at the same place of the travel.
    WornTrack,
    /// Contact lost at a place of the travel.
    LooseWiper,
    /// Contact lost while the cable is moved, or anywhere.
    LooseConnection,
    /// It does not come back to the same place.
    StickyReturn,
    /// It comes back, but late.
    SlowReturn,
    /// It moves the wrong way round.
    Backwards,
    /// Each input carries the other track.
    TracksSwapped,
    /// Both inputs carry the same signal.
    TracksJoined,
    /// The two tracks do not say the same.
    TracksDisagree,
    /// The supply does not arrive.
    NoSupply,
    /// The ground does not arrive.
    NoGround,
    /// The signal does not arrive.
    SignalOpen,
    /// The signal touches supply or ground.
    SignalShorted,
    /// Every reading is off by one factor.
    WrongSupply,
    /// Not pressed fully, or a stop in the way.
    ShortTravel,
    /// An end of travel reads elsewhere than it should.
    EndOutOfPlace,
    /// Not straight between its ends.
    BentCurve,
    /// The mains, or what a rectifier makes of them.
    MainsHum,
    /// What comes from the room at any place and time.
    Interference,
    /// The board's own noise.
    BoardNoise,
    /// The board's own ends and steps.
    BoardNonlinear,
    /// Another kind of control than it was checked as.
    WrongProfile,
    /// Nothing that is known here explains it.
    Unknown,
}

impl CauseWord {
    /// Where it is to be looked for.
    pub fn field(self) -> Field {
        match self {
            Self::WornTrack
            | Self::LooseWiper
            | Self::StickyReturn
            | Self::SlowReturn
            | Self::TracksDisagree
            | Self::EndOutOfPlace
            | Self::BentCurve
            | Self::Unknown => Field::Part,
            Self::LooseConnection
            | Self::Backwards
            | Self::TracksSwapped
            | Self::TracksJoined
            | Self::NoSupply
            | Self::NoGround
            | Self::SignalOpen
            | Self::SignalShorted
            | Self::WrongSupply => Field::Wiring,
            Self::MainsHum | Self::Interference => Field::Room,
            Self::BoardNoise | Self::BoardNonlinear => Field::Board,
            Self::ShortTravel => Field::Travel,
            Self::WrongProfile => Field::Profile,
        }
    }
}

/// Where a cause is to be looked for: only the part itself is to blame for a part that is not fitted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Field {
    Part,
    Wiring,
    Room,
    Board,
    /// How far it was moved.
    Travel,
    /// What it was checked as.
    Profile,
}

/// How sure a cause is.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "lowercase")]
pub enum Confidence {
    /// It fits; something else may fit as well.
    Possible,
    /// It fits better than all else.
    Likely,
    /// Nothing else fits.
    Certain,
}

impl fmt::Display for Confidence {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Possible => "possible",
            Self::Likely => "likely",
            Self::Certain => "certain",
        })
    }
}

/// Which way a fault moves the command.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum ActsTowards {
    /// More than was asked.
    Full,
    /// Less than was asked.
    Zero,
    /// Now more, now less, or anything.
    Either,
    /// Not at all, or not known.
    None,
}

impl ActsTowards {
    /// `; acts towards full`; nothing where it does not act.
    pub fn describe(self) -> &'static str {
        match self {
            Self::Full => "; acts towards full",
            Self::Zero => "; acts towards zero",
            Self::Either => "; acts either way",
            Self::None => "",
        }
    }
}

/// Why findings failed, and what to do about it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[allow(clippy::struct_field_names)] // the keys of the JSON
pub struct Cause {
    /// What it is.
    pub cause: CauseWord,
    /// How sure it is.
    pub confidence: Confidence,
    /// The channel, or `a/b` for two; null when it is all of them.
    pub channel: Option<String>,
    /// The board's input that the channel is on, counted as our streamer sends them.
    pub pin: Option<String>,
    /// Where on the travel it begins, %.
    pub from_pct: Option<f64>,
    /// Where on the travel it ends, %.
    pub to_pct: Option<f64>,
    /// Which way it moves the command.
    pub acts_towards: ActsTowards,
    /// What speaks for it, with numbers.
    pub because: Vec<String>,
    /// What to do, the cheapest first.
    #[serde(rename = "do")]
    pub remedies: Vec<String>,
    /// The next test that would settle it; null when it is settled.
    pub tell_apart: Option<String>,
    /// The findings that it explains, as places in `findings`.
    pub findings: Vec<usize>,
    /// In one clause, for the headline.
    #[serde(skip)]
    pub clause: String,
}

/// A single wiring fault that the board may take for a command.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct WiringDanger {
    /// The channel whose wire it is.
    pub channel: String,
    /// `ground wire breaks`.
    pub fault: String,
    /// What the board takes it for: `90-100 % throttle`.
    pub reads: String,
    /// Where it is noticed: `only above 80 % of travel`.
    pub caught: String,
    /// What to change; null when nothing on this wiring helps.
    pub change: Option<String>,
}

/// A mains line that stands out in the noise of a channel.
#[derive(Debug, Clone, PartialEq)]
pub struct Hum {
    pub channel: String,
    /// 50 or 60 Hz, or twice that.
    pub hz: u32,
    /// Its rms, codes.
    pub rms: f64,
    /// The noise as a whole, codes rms.
    pub noise: f64,
    /// Whether it makes most of the noise.
    pub most: bool,
}

impl Hum {
    /// What is to be known of it where nothing failed, and what to try.
    pub fn remark(&self) -> String {
        format!(
            "{}: most of the noise is {} Hz mains hum ({} of {} codes). Run the laptop on its battery; keep the cable away from chargers.",
            self.channel,
            self.hz,
            four_digits(self.rms),
            fixed(self.noise, 1)
        )
    }
}

/// All that is said about one assessment.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
pub struct Diagnosis {
    /// What to do and the reason, in one line.
    #[serde(default)]
    pub headline: String,
    /// The most likely first; none for a good part.
    #[serde(default)]
    pub causes: Vec<Cause>,
    /// The worst first, at most three.
    #[serde(default)]
    pub wiring_dangers: Vec<WiringDanger>,
    /// What would tell the first cause from what else fits, as a step of the card.
    #[serde(skip)]
    pub trial: Option<Trial>,
    /// The kind that it looks like, when that is the first cause.
    #[serde(skip)]
    pub other_profile: Option<String>,
    /// Where the mains are heard in the noise, whether or not anything failed by it.
    #[serde(skip)]
    pub hum: Vec<Hum>,
}

impl Diagnosis {
    /// The change that helps against all of several dangers of the wiring, told once and not beside each: `Against all of these: fit ...`.
    pub fn shared_change(&self) -> Option<String> {
        let [first, others @ ..] = &self.wiring_dangers[..] else {
            return None;
        };
        let same = |other: &WiringDanger| other.change == first.change;
        let shared = !others.is_empty() && others.iter().all(same);
        let change = first.change.as_deref().filter(|_| shared)?;
        let mut letters = change.chars();
        let begins = letters.next()?.to_lowercase();
        Some(format!(
            "Against all of these: {begins}{}",
            letters.as_str()
        ))
    }

    /// What is to be known although it broke nothing: a sentence each.
    pub fn remarks(&self) -> Vec<String> {
        let named = self
            .causes
            .iter()
            .any(|cause| cause.cause == CauseWord::MainsHum);
        let most = self.hum.iter().filter(|hum| hum.most && !named);
        most.map(Hum::remark).collect()
    }
}
