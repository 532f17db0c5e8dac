//! What each column of a stream carries: as stated, else by its name.

use crate::capture::ChannelMeta;
use crate::profile::Profile;
use measure::figure::FigureName;
use measure::units::{Role, Scale, Track};

use crate::bench::card::ExpectedEnds;

/// The role of a column by its name alone.
pub(super) fn usual_role(name: &str) -> Role {
    match name {
        "supply" | "vcc" | "vdd" => Role::Supply,
        "output" | "out" | "dac" => Role::Output,
        _ => Role::Signal,
    }
}

/// Roles of columns: as stated, else by name; of the signals the first is on track 1, the second on track 2 if the
/// control has two.
pub(in crate::bench) fn assign(
    columns: &[String],
    stated: &[(String, ChannelMeta)],
    two_tracks: bool,
) -> Vec<(String, ChannelMeta)> {
    let mut tracks = [Track::One, Track::Two].into_iter();
    let channel = |name: &String| {
        if let Some(stated) = stated.iter().find(|(known, _)| known == name) {
            return stated.clone();
        }
        let role = usual_role(name);
        let track = (role == Role::Signal).then(|| {
            let next = tracks.next().filter(|_| two_tracks);
            next.unwrap_or(Track::One)
        });
        (name.clone(), ChannelMeta { role, track })
    };
    columns.iter().map(channel).collect()
}

/// Where the ends of a channel are expected: the middle of the profile's limits, in codes.
pub(super) fn expected_ends(
    channel: Option<&(String, ChannelMeta)>,
    profile: Option<&Profile>,
    scale: Scale,
) -> ExpectedEnds {
    let track = channel.and_then(|(_, meta)| meta.track);
    let part = profile.and_then(|p| p.tracks.get(&track.unwrap_or(Track::One)));
    let middle = |ratio: FigureName| {
        let limit = part?.limits.get(&ratio)?;
        Some(f64::midpoint(limit.min()?, limit.max()?) * f64::from(scale.codes()))
    };
    let (rest, full) = (middle(FigureName::RestRatio), middle(FigureName::FullRatio));
    let near = || {
        let limit = part?.limits.get(&FigureName::FullRatio)?;
        let ratio = if full? > rest? {
            limit.min()
        } else {
            limit.max()
        };
        Some(ratio? * f64::from(scale.codes()))
    };
    ExpectedEnds {
        rest,
        full,
        full_near: near(),
    }
}
