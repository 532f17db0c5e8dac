//! The part is another kind of control than was chosen: it is checked as that from here on.
//!
//! What was taken until then is set aside, and the other kind's card begins; the recording goes on.

use super::channels;
use super::labels::Labels;
use super::looks;
use super::recorder::Recorder;
use super::setup::Plan;
use crate::bench::card::EvidencePlan;
use crate::capture::{Metadata, SetAside};
use crate::profile::Profile;
use measure::units::Track;
use std::sync::Arc;

impl Recorder {
    /// Begins the card of this profile. False where no card is led.
    pub(super) fn check_as(&mut self, profile: &Arc<Profile>) -> bool {
        if !matches!(self.labels, Labels::Card(_)) {
            return false;
        }
        let Some(header) = self.header.clone() else {
            return false;
        };
        let two_tracks = profile.tracks.contains_key(&Track::Two);
        let channels = channels::assign(&header.columns, &self.stated, two_tracks);
        if let Some(to_us) = self.last_us {
            self.take_back(SetAside { from_us: 0, to_us });
        }
        self.labels = Labels::Pending {
            plan: Plan::Card(profile.card.clone(), EvidencePlan::at_first(profile)),
            asking: self.asking,
            stations: None,
            sequential: true,
        };
        self.labels.begin(&channels, Some(profile), header.scale);
        self.unit.profile = Some(profile.name.clone());
        self.profile = Some(Arc::clone(profile));
        let unit = self.unit.clone();
        let of = |meta: &mut Metadata| {
            meta.unit.clone_from(&unit);
            meta.channels.clone_from(&channels);
        };
        if let Some(writer) = &mut self.writer {
            writer.describe_anew(of);
        }
        if let Some(evidence) = &mut self.evidence {
            of(&mut evidence.kept.meta);
        }
        self.stream = Some(self.about(&header, &channels));
        self.set_looks(looks::FIRST);
        true
    }
}
