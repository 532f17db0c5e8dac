//! Records what the decoder finds: labels each sample, writes it to the capture, keeps it for the screen and the looks.

use super::capture_end::{CaptureEnd, describe, salvage_note, truncation_note};
use super::channels;
use super::events::{Batch, LinkState, StreamHealth, StreamInfo};
use super::evidence::Evidence;
use super::labels::Labels;
use super::late::{Late, Sample};
use super::looks;
use super::quarantine::{Quarantine, stream_counts};
use super::rate::RateMeter;
use super::setup::{Asking, Plan, Setup};
use crate::bench::card::{self, Label, Presence};
use crate::capture::{
    BoardMeta, CaptureWriter, ChannelMeta, Clock, Disk, LooksTaken, Metadata, RealDisk, RefMeta,
    SetAside, StreamCounts, UnitMeta,
};
use crate::link::{Counts, Event, FirstBytes, Header, Source, StreamOptions, StreamWatch, Trouble};
use crate::profile::Profile;
use measure::units::{Code, Role, Track};
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

/// How long nothing may decode before advice is given.
const PATIENCE: Duration = Duration::from_secs(2);
/// Most samples that wait for the screen. When nobody takes them (a terminal that stands still) they are dropped and
/// counted: the capture has them.
const MOST_WAITING: usize = 1 << 17;
/// Most bytes without a sample of what is no port: a minute of a board at a million baud.
const MOST_NOISE: u64 = 4 << 20;
/// Stated in the metadata of a board that says no rate, until one can be measured: samples a second.
const RATE_UNKNOWN_HZ: f64 = 1.0;

pub(super) struct Recorder {
    pub(super) labels: Labels,
    /// What made the run impossible; taken once.
    pub(super) failure: Option<String>,
    pub(super) profile: Option<Arc<Profile>>,
    pub(super) asking: Asking,
    pub(super) stated: Vec<(String, ChannelMeta)>,
    pub(super) unit: UnitMeta,
    out: Option<PathBuf>,
    disk: Box<dyn Disk>,
    quarantine: Quarantine,
    source: String,
    simulated: bool,
    /// What the source still looks for, in words.
    pub(super) search: Option<String>,
    watch: StreamWatch,
    baud: Option<u32>,
    inl_code: Option<f64>,
    live: bool,
    looks: Option<LooksTaken>,
    pub(super) header: Option<Header>,
    pub(super) writer: Option<CaptureWriter>,
    pub(super) evidence: Option<Evidence>,
    /// The stream's description, until it was sent.
    pub(super) stream: Option<StreamInfo>,
    /// Samples not yet sent.
    pub(super) batch: Batch,
    not_shown: u64,
    /// Metadata of a capture that begins with its first sample.
    pending: Option<Metadata>,
    pub(super) first_bytes: FirstBytes,
    rate: RateMeter,
    /// The column of a sensor that measures the position.
    sensor: Option<usize>,
    /// Samples missing of times that nothing lacks: a card takes what was under way again.
    away: u64,
    pub(super) last_us: Option<u64>,
    /// Samples of a hold that wait to be kept.
    late: Late,
}

impl Recorder {
    /// A recorder for a run, and what it leaves to the runner: the source and what the user says of its stream.
    pub(super) fn new(setup: Setup, disk: Box<dyn Disk>) -> (Self, Box<dyn Source>, StreamOptions) {
        let sequential =
            setup.live && setup.profile.is_some() && matches!(setup.plan, Plan::Card(..));
        let recorder = Self {
            labels: Labels::Pending {
                sequential,
                plan: setup.plan,
                asking: setup.asking,
                stations: setup.stations,
            },
            failure: None,
            stated: setup.channels,
            unit: UnitMeta {
                tag: setup.tag,
                profile: setup.profile.as_ref().map(|p| p.name.clone()),
            },
            profile: setup.profile,
            asking: setup.asking,
            out: setup.out,
            disk,
            quarantine: Quarantine::default(),
            source: setup.source.describe(),
            simulated: setup.source.is_simulated(),
            search: None,
            watch: StreamWatch::default(),
            baud: setup.baud,
            inl_code: setup.stream.inl_codes,
            live: setup.live,
            looks: sequential.then_some(looks::FIRST),
            header: None,
            writer: None,
            evidence: None,
            stream: None,
            batch: Batch::default(),
            not_shown: 0,
            pending: None,
            first_bytes: FirstBytes::of(setup.stream.clone()),
            rate: RateMeter::default(),
            sensor: None,
            away: 0,
            last_us: None,
            late: Late::default(),
        };
        (recorder, setup.source, setup.stream)
    }

    pub(super) fn event(&mut self, event: Event<'_>) {
        match event {
            Event::Header(header) => {
                self.header(header);
                if self.failure.is_some() {
                    self.quarantine.reject();
                } else {
                    self.release_held();
                }
            }
            Event::Sample {
                t_us,
                codes,
                missing,
                in_doubt,
                ..
            } => {
                if !self.quarantine.holds(t_us, codes, missing, in_doubt) {
                    self.release_held();
                    self.record(t_us, codes, missing);
                }
            }
            Event::Rejected { cause, line } => self.first_bytes.rejected(cause, line),
            Event::Comment(_) => {}
        }
    }

    fn header(&mut self, header: &Header) {
        if let Some(before) = &self.header {
            // Names, scale, rate, and whether there is a time: samples of two kinds are never in one capture.
            if before != header {
                self.failure = Some(format!(
                    "{}: the board's header changed from {} to {}.\n  Another board, or another firmware: begin a new recording with it",
                    self.source,
                    describe(before),
                    describe(header)
                ));
            }
            return;
        }
        self.header = Some(header.clone());
        let profile = self.profile.as_deref();
        let two_tracks = profile.is_none_or(|p| p.tracks.contains_key(&Track::Two));
        let channels = channels::assign(&header.columns, &self.stated, two_tracks);
        let mut roles = channels.iter().map(|(_, meta)| meta.role);
        self.sensor = roles.position(|role| role == Role::Reference);
        self.labels.begin(&channels, profile, header.scale);
        self.stream = Some(self.about(header, &channels));
        let meta = self.metadata(header, channels);
        self.batch.codes = vec![Vec::new(); header.columns.len()];
        self.pending = Some(meta);
    }

    /// The stream, for whoever shows it.
    pub(super) fn about(&self, header: &Header, channels: &[(String, ChannelMeta)]) -> StreamInfo {
        let track = |c: &ChannelMeta| c.track.filter(|_| c.role == Role::Signal);
        let channels = channels.iter();
        StreamInfo {
            channels: channels.map(|(name, c)| (name.clone(), track(c))).collect(),
            bits: header.bits(),
            vref_mv: header.vref_mv(),
            rate_hz: header.rate_hz.unwrap_or(RATE_UNKNOWN_HZ),
            board_time: header.has_time(),
            source: self.source.clone(),
            tag: self.unit.tag.clone(),
        }
    }

    fn metadata(&self, header: &Header, channels: Vec<(String, ChannelMeta)>) -> Metadata {
        let now = jiff::Timestamp::now().strftime("%Y-%m-%dT%H:%M:%SZ");
        let rate_hz = header.rate_hz.unwrap_or(RATE_UNKNOWN_HZ);
        let board = BoardMeta {
            inl_code: self.inl_code,
            clock: (!header.has_time()).then_some(Clock::Host),
            ..BoardMeta::new(&self.source, header.bits(), header.vref_mv(), rate_hz)
        };
        Metadata {
            unit: self.unit.clone(),
            reference: self.reference(),
            started: Some(now.to_string()),
            looks: self.looks,
            simulated: self.simulated,
            ..Metadata::new(board, channels)
        }
    }

    fn begin_capture(&mut self, meta: Metadata) {
        if let Some(out) = &self.out {
            let disk = std::mem::replace(&mut self.disk, Box::new(RealDisk));
            match CaptureWriter::create_on(disk, out, meta.clone()) {
                Ok(writer) => self.writer = Some(writer),
                Err(e) => self.failure = Some(e.to_string()),
            }
        }
        if self.live {
            self.evidence = Some(Evidence::new(meta));
        }
    }

    /// The samples held in quarantine are the same board's after all.
    fn release_held(&mut self) {
        for held in self.quarantine.release() {
            self.record(held.t_us, &held.codes, held.missing);
        }
    }

    /// Records a sample, unless one before it has ended the run.
    fn record(&mut self, t_us: u64, codes: &[Code], missing: u64) {
        if self.failure.is_some() || self.labels.done() {
            return self.quarantine.too_late(missing);
        }
        let gap = self
            .last_us
            .replace(t_us)
            .is_some_and(|last| card::is_gap(last, t_us));
        if gap && self.labels.takes_again() {
            self.away = self.away.saturating_add(missing);
        }
        let mut label = self.labels.label(t_us, codes);
        if let Some(code) = self.sensor.and_then(|column| codes.get(column)) {
            label.position = Some(code.as_f64());
        }
        // The capture begins with its first sample: a board that never sends one leaves no file behind.
        if let Some(meta) = self.pending.take() {
            self.begin_capture(meta);
        }
        self.rate.push(t_us);
        let waits = self.labels.may_take_back(label.step);
        if waits || !self.late.is_empty() {
            self.late.push(t_us, label, codes);
        } else {
            self.keep(t_us, label, codes);
        }
        self.put_aside();
        self.keep_late(waits.then_some(t_us));
        if self.batch.t_us.len() == MOST_WAITING {
            self.not_shown += MOST_WAITING as u64;
            let _ = self.take_batch();
        }
        self.batch.t_us.push(t_us);
        self.batch.step.push(label.step);
        for (column, code) in self.batch.codes.iter_mut().zip(codes) {
            column.push(*code);
        }
    }

    /// Those that have waited for long enough; all, when there is no time.
    fn keep_late(&mut self, now_us: Option<u64>) {
        while let Some(Sample { t_us, label, codes }) = self.late.next(now_us) {
            self.keep(t_us, label, &codes);
        }
    }

    fn keep(&mut self, t_us: u64, label: Label, codes: &[Code]) {
        if let Some(writer) = &mut self.writer
            && let Err(e) = writer.push(t_us, label.step, codes.iter().copied(), label.position)
        {
            self.failure = Some(e.to_string());
        }
        if let Some(evidence) = &mut self.evidence {
            evidence.push(t_us, label, codes);
        }
    }

    /// What the card takes back: of samples that wait, in the capture, and in memory.
    pub(super) fn put_aside(&mut self) {
        for stretch in self.labels.take_aside() {
            self.take_back(stretch);
        }
    }

    pub(super) fn take_back(&mut self, stretch: SetAside) {
        let Some(stretch) = self.late.set_aside(stretch) else {
            return;
        };
        if let Some(writer) = &mut self.writer {
            writer.set_aside(stretch);
        }
        if let Some(evidence) = &mut self.evidence {
            evidence.set_aside(stretch);
        }
    }

    /// States what was tried, before somebody looks at it.
    pub(super) fn state_tried(&mut self) {
        let tried = self.labels.tried();
        if tried.is_empty() {
            return;
        }
        if let Some(writer) = &mut self.writer {
            writer.set_tried(tried);
        }
        if let Some(evidence) = &mut self.evidence {
            evidence.set_tried(tried);
        }
    }

    /// What is known of the reference travel by now; `None` when there will be none.
    fn reference(&self) -> Option<RefMeta> {
        let unit = |unit: &str| RefMeta {
            unit: unit.to_owned(),
            low: None,
            high: None,
            u: None,
        };
        match self.sensor {
            Some(_) => Some(unit("code")),
            None if self.labels.has_stations() => {
                Some(self.labels.reference().unwrap_or_else(|| unit("")))
            }
            None => None,
        }
    }

    fn state_reference(&mut self) {
        let Some(reference) = self.reference() else {
            return;
        };
        if let Some(evidence) = &mut self.evidence {
            evidence.kept.meta.reference = Some(reference.clone());
        }
        if let Some(writer) = &mut self.writer {
            writer.set_reference(reference);
        }
    }

    /// The samples since the last time, if any.
    pub(super) fn take_batch(&mut self) -> Option<Batch> {
        if self.batch.t_us.is_empty() {
            return None;
        }
        let fresh = Batch {
            codes: vec![Vec::new(); self.batch.codes.len()],
            ..Batch::default()
        };
        Some(std::mem::replace(&mut self.batch, fresh))
    }

    pub(super) fn flush(&mut self, counts: &Counts) {
        self.state_measured_rate();
        self.state_reference();
        self.state_tried();
        let counts = self.counts(counts);
        if let Some(writer) = &mut self.writer
            && let Err(e) = writer.flush(&counts)
        {
            self.failure = Some(e.to_string());
        }
    }

    /// A board that says no rate: the one measured takes its place in the metadata.
    fn state_measured_rate(&mut self) {
        let unstated = self.header.as_ref().is_some_and(|h| h.rate_hz.is_none());
        let Some(hz) = self.rate.overall_hz().filter(|_| unstated) else {
            return;
        };
        if let Some(writer) = &mut self.writer {
            writer.set_rate_hz(hz);
        }
        if let Some(evidence) = &mut self.evidence {
            evidence.kept.meta.board.rate_hz = hz;
        }
    }

    pub(super) fn set_looks(&mut self, looks: LooksTaken) {
        if let Some(writer) = &mut self.writer {
            writer.set_looks(looks);
        }
        if let Some(evidence) = &mut self.evidence {
            evidence.kept.meta.looks = Some(looks);
        }
    }

    /// What is read, as long as it is not yet in the capture: a port learns its speed only by listening.
    pub(super) fn read_from(&mut self, source: &dyn Source) {
        if self.header.is_none() {
            self.source = source.describe();
            self.search = source.search();
        }
    }

    pub(super) fn health(
        &mut self,
        counts: &Counts,
        link: LinkState,
        since_start: Duration,
    ) -> StreamHealth {
        // At the end there is nothing left to wait for.
        let waited = if link == LinkState::Ended {
            PATIENCE
        } else {
            since_start
        };
        let trouble = self.trouble(counts, link, since_start);
        let usual = || self.advice(counts, waited);
        StreamHealth {
            counts: self.counts(counts),
            rate_hz: self.rate.hz(),
            not_shown: self.not_shown,
            link,
            advice: trouble.map(|trouble| trouble.to_string()).or_else(usual),
        }
    }

    /// What goes wrong with a stream that has begun. A clock that gives nothing to work with ends what nobody watches.
    fn trouble(&mut self, counts: &Counts, link: LinkState, at: Duration) -> Option<Trouble> {
        let header = self.header.as_ref().filter(|_| counts.samples > 0)?;
        let connected = link == LinkState::Connected;
        let trouble = self
            .watch
            .see(at, counts, header, self.last_us, connected)?;
        if self.asking.presence == Presence::Unheard && self.watch.is_hopeless(at) {
            self.failure.get_or_insert_with(|| trouble.to_string());
        }
        Some(trouble)
    }

    fn advice(&self, counts: &Counts, since_start: Duration) -> Option<String> {
        if counts.samples > 0 {
            return self.evidence.as_ref().and_then(truncation_note);
        }
        if self.search.is_some() {
            return self.search.clone();
        }
        if since_start < PATIENCE {
            return None;
        }
        if counts.bytes == 0 {
            return Some(format!(
                "Nothing arrives from {}. Is the board running and printing?",
                self.source
            ));
        }
        self.first_bytes.advice(counts, self.baud)
    }

    /// What another program pipes in has no rate that somebody could set right meanwhile: what brings so much and no sample is no
    /// stream.
    pub(super) fn refuse_noise(&mut self, counts: &Counts) {
        let noise = counts.samples == 0 && counts.bytes > MOST_NOISE;
        if noise && self.failure.is_none() {
            let seen = self.first_bytes.advice(counts, None).unwrap_or_default();
            self.failure = Some(format!(
                "{} MB came from {} and not one sample was in it\n  {seen}",
                MOST_NOISE >> 20,
                self.source
            ));
        }
    }

    /// Ends the capture, whatever happened before.
    pub(super) fn close(&mut self, counts: &Counts) -> CaptureEnd {
        if self.failure.is_none() {
            // A board that had no time left to say who it is: the cable was not pulled to exchange it, most likely.
            self.release_held();
        }
        self.put_aside();
        self.keep_late(None);
        let counts = self.counts(counts);
        self.state_measured_rate();
        self.state_reference();
        self.state_tried();
        if let Some(evidence) = &mut self.evidence {
            evidence.kept.meta.stream = counts.clone();
        }
        let mut end = CaptureEnd::default();
        if let Some(mut writer) = self.writer.take() {
            let path = writer.path().to_owned();
            end.failure = writer.end(&counts).err().map(|e| e.to_string());
            end.on_disk = salvage_note(&path, writer.leave());
            end.file = Some(path);
        } else if self.out.is_some() {
            "\n  No sample was recorded".clone_into(&mut end.on_disk);
        }
        end
    }

    /// The stream's counts as far as they are of this run's board.
    pub(super) fn counts(&self, counts: &Counts) -> StreamCounts {
        let away = self.away;
        self.quarantine.counts(StreamCounts {
            away,
            ..stream_counts(counts)
        })
    }
}
