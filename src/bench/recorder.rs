//! Takes what the decoder finds: labels each sample, writes it to the capture, keeps it for whoever shows it.

use super::card::ExpectedEnds;
use super::doubt::Doubt;
use super::events::{Batch, LinkState, StreamHealth, Taking};
use super::evidence::Evidence;
use super::looks;
use super::run::{Labels, Plan, Setup};
use crate::capture::{
    Board, CaptureWriter, ChannelMeta, Clock, Disk, LooksTaken, Metadata, OnDisk, RealDisk,
    StreamCounts, UnitMeta,
};
use crate::link::{Counts, Event, FirstBytes, Header, Source, StreamOptions};
use crate::profile::Profile;
use measure::figure::FigureName;
use measure::judge::Limit;
use measure::units::{Code, Role, Scale, Track, seconds_from_us};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// How long nothing may decode before advice is given.
const PATIENCE: Duration = Duration::from_secs(2);
/// Samples that wait for whoever shows them, at most. When nobody takes them (a terminal that stands still) they are let go and
/// counted: the capture has them.
const WAITING_MOST: usize = 1 << 17;
/// Stated in the metadata of a board that says no rate, until one can be measured: samples a second.
const RATE_UNKNOWN_HZ: f64 = 1.0;

pub(super) struct Recorder {
    pub(super) labels: Labels,
    /// What made the run impossible, to be told once.
    pub(super) trouble: Option<String>,
    two_tracks: bool,
    limits: BTreeMap<Track, BTreeMap<FigureName, Limit>>,
    stated: Vec<(String, ChannelMeta)>,
    unit: UnitMeta,
    out: Option<PathBuf>,
    disk: Box<dyn Disk>,
    doubt: Doubt,
    source: String,
    baud: Option<u32>,
    live: bool,
    looks: Option<LooksTaken>,
    header: Option<Header>,
    lead: usize,
    writer: Option<CaptureWriter>,
    evidence: Option<Evidence>,
    /// What is news, and the samples since the last telling.
    taking: Option<Taking>,
    batch: Batch,
    not_shown: u64,
    pending: Option<Metadata>,
    first_bytes: FirstBytes,
    rate: RateWatch,
}

impl Recorder {
    /// A recorder for a run, and what it leaves to the runner: the source and what the user says of its stream.
    pub(super) fn new(setup: Setup, disk: Box<dyn Disk>) -> (Self, Box<dyn Source>, StreamOptions) {
        let profile = setup.profile.as_deref();
        let limits = |p: &Profile| {
            p.tracks
                .iter()
                .map(|(track, part)| (*track, part.limits.clone()))
                .collect()
        };
        let patient = setup.live && setup.profile.is_some() && matches!(setup.plan, Plan::Card(..));
        let recorder = Self {
            labels: Labels::NotYet {
                patient,
                plan: setup.plan,
            },
            trouble: None,
            two_tracks: profile.is_none_or(|p| p.tracks.contains_key(&Track::Two)),
            limits: profile.map_or_else(BTreeMap::new, limits),
            stated: setup.channels,
            unit: UnitMeta {
                tag: setup.tag,
                profile: profile.map(|p| p.name.clone()),
            },
            out: setup.out,
            disk,
            doubt: Doubt::default(),
            source: setup.source.describe(),
            baud: setup.baud,
            live: setup.live,
            looks: patient.then_some(looks::FIRST),
            header: None,
            lead: 0,
            writer: None,
            evidence: None,
            taking: None,
            batch: Batch::default(),
            not_shown: 0,
            pending: None,
            first_bytes: FirstBytes::default(),
            rate: RateWatch::default(),
        };
        (recorder, setup.source, setup.stream)
    }

    /// Takes one event.
    pub(super) fn event(&mut self, event: Event<'_>) {
        match event {
            Event::Header(header) => {
                self.header(header);
                if self.trouble.is_some() {
                    self.doubt.refuse();
                } else {
                    self.believed();
                }
            }
            Event::Sample {
                t_us,
                codes,
                missing,
                in_doubt,
                ..
            } => {
                if !self.doubt.takes(t_us, codes, missing, in_doubt) {
                    self.believed();
                    self.take_or_leave(t_us, codes, missing);
                }
            }
            Event::Rejected { .. } | Event::Comment(_) => {}
        }
    }

    fn header(&mut self, header: &Header) {
        if let Some(before) = &self.header {
            // Names, scale, rate, and whether there is a time: samples of two kinds are never in one capture.
            if before != header {
                self.trouble = Some(format!(
                    "{}: the board's header changed from {} to {}.\n  Another board, or another firmware: begin a new capture with it",
                    self.source,
                    told(before),
                    told(header)
                ));
            }
            return;
        }
        self.header = Some(header.clone());
        let channels = self.roles(header);
        self.lead = channels
            .iter()
            .position(|(_, meta)| meta.role == Role::Signal)
            .unwrap_or(0);
        let expected = self.expected_ends(&channels, header.scale);
        self.labels.begin(self.lead, header.scale, expected);
        let meta = self.metadata(header, channels);
        let taking = Taking {
            channels: meta
                .channels
                .iter()
                .map(|(name, c)| (name.clone(), c.track.filter(|_| c.role == Role::Signal)))
                .collect(),
            bits: header.bits(),
            vref_mv: header.vref_mv(),
            rate_hz: meta.board.rate_hz,
            board_time: header.has_time(),
            source: self.source.clone(),
            tag: self.unit.tag.clone(),
        };
        self.batch.codes = vec![Vec::new(); header.columns.len()];
        self.pending = Some(meta);
        self.taking = Some(taking);
    }

    /// The middle of the profile's limits on the ends of the leading channel.
    fn expected_ends(&self, channels: &[(String, ChannelMeta)], scale: Scale) -> ExpectedEnds {
        let track = channels
            .get(self.lead)
            .and_then(|(_, meta)| meta.track)
            .unwrap_or(Track::One);
        let middle = |ratio: FigureName| {
            let limit = self.limits.get(&track)?.get(&ratio)?;
            Some(f64::midpoint(limit.min()?, limit.max()?) * f64::from(scale.codes()))
        };
        ExpectedEnds {
            rest: middle(FigureName::RestRatio),
            full: middle(FigureName::FullRatio),
        }
    }

    /// What the user stated; else by name: a supply, an output; else signals, the first on track 1 and the second
    /// on track 2 of a control that has two.
    fn roles(&self, header: &Header) -> Vec<(String, ChannelMeta)> {
        let mut tracks = [Track::One, Track::Two].into_iter();
        let two = self.two_tracks;
        header
            .columns
            .iter()
            .map(|name| {
                if let Some(stated) = self.stated.iter().find(|(known, _)| known == name) {
                    return stated.clone();
                }
                let role = match name.as_str() {
                    "supply" | "vcc" | "vdd" => Role::Supply,
                    "output" | "out" | "dac" => Role::Output,
                    _ => Role::Signal,
                };
                let track = (role == Role::Signal).then(|| {
                    let next = tracks.next().unwrap_or(Track::One);
                    if two { next } else { Track::One }
                });
                (name.clone(), ChannelMeta { role, track })
            })
            .collect()
    }

    fn metadata(&self, header: &Header, channels: Vec<(String, ChannelMeta)>) -> Metadata {
        Metadata {
            board: Board {
                name: self.source.clone(),
                bits: header.bits(),
                vref_mv: header.vref_mv(),
                rate_hz: header.rate_hz.unwrap_or(RATE_UNKNOWN_HZ),
                inl_code: None,
                clock: (!header.has_time()).then_some(Clock::Host),
            },
            unit: self.unit.clone(),
            channels,
            reference: None,
            started: Some(
                jiff::Timestamp::now()
                    .strftime("%Y-%m-%dT%H:%M:%SZ")
                    .to_string(),
            ),
            stream: StreamCounts::default(),
            looks: self.looks,
            note: None,
        }
    }

    fn begin_capture(&mut self, meta: Metadata) {
        if let Some(out) = &self.out {
            let disk = std::mem::replace(&mut self.disk, Box::new(RealDisk));
            match CaptureWriter::create_on(disk, out, meta.clone()) {
                Ok(writer) => self.writer = Some(writer),
                Err(e) => self.trouble = Some(e.to_string()),
            }
        }
        if self.live {
            self.evidence = Some(Evidence::new(meta));
        }
    }

    /// The samples that were kept back are the same board's after all.
    fn believed(&mut self) {
        for held in self.doubt.end() {
            self.take_or_leave(held.t_us, &held.codes, held.missing);
        }
    }

    /// Takes a sample, unless one that was kept back before it has brought the run to its end.
    fn take_or_leave(&mut self, t_us: u64, codes: &[Code], missing: u64) {
        if self.trouble.is_some() || self.labels.done() {
            self.doubt.too_late(missing);
        } else {
            self.sample(t_us, codes);
        }
    }

    fn sample(&mut self, t_us: u64, codes: &[Code]) {
        let label = self.labels.label(t_us, codes);
        // The capture begins with its first sample: a board that never sends one leaves no file behind.
        if let Some(meta) = self.pending.take() {
            self.begin_capture(meta);
        }
        self.rate.push(t_us);
        if let Some(writer) = &mut self.writer
            && let Err(e) = writer.push(t_us, label.step, codes.iter().copied(), label.position)
        {
            self.trouble = Some(e.to_string());
        }
        if let Some(evidence) = &mut self.evidence {
            evidence.push(t_us, label.step, codes);
        }
        if self.batch.t_us.len() == WAITING_MOST {
            self.not_shown += WAITING_MOST as u64;
            let _ = self.take_batch();
        }
        self.batch.t_us.push(t_us);
        self.batch.step.push(label.step);
        for (column, code) in self.batch.codes.iter_mut().zip(codes) {
            column.push(*code);
        }
    }

    /// What is being taken, when that is news.
    pub(super) fn take_taking(&mut self) -> Option<Taking> {
        self.taking.take()
    }

    /// It was not told after all.
    pub(super) fn put_back_taking(&mut self, taking: Taking) {
        self.taking = Some(taking);
    }

    /// A batch was not told after all: no sample came since.
    pub(super) fn put_back(&mut self, batch: Batch) {
        self.batch = batch;
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
        let counts = self.counts(counts);
        if let Some(writer) = &mut self.writer
            && let Err(e) = writer.flush(&counts)
        {
            self.trouble = Some(e.to_string());
        }
    }

    /// A board that says no rate: the one measured takes its place in the metadata.
    fn state_measured_rate(&mut self) {
        if self
            .header
            .as_ref()
            .is_some_and(|header| header.rate_hz.is_none())
            && let Some(hz) = self.rate.overall_hz()
        {
            if let Some(writer) = &mut self.writer {
                writer.set_rate_hz(hz);
            }
            if let Some(evidence) = &mut self.evidence {
                evidence.meta_mut().board.rate_hz = hz;
            }
        }
    }

    /// States the look at the findings that the capture has come to.
    pub(super) fn looked(&mut self, looks: LooksTaken) {
        if let Some(writer) = &mut self.writer {
            writer.set_looks(looks);
        }
        if let Some(evidence) = &mut self.evidence {
            evidence.meta_mut().looks = Some(looks);
        }
    }

    /// What is kept in memory; nothing before the first sample, and of a run that is not assessed.
    pub(super) fn evidence(&self) -> Option<&Evidence> {
        self.evidence.as_ref()
    }

    pub(super) fn health(
        &self,
        counts: &Counts,
        link: LinkState,
        advice: Option<String>,
    ) -> StreamHealth {
        StreamHealth {
            counts: self.counts(counts),
            rate_hz: self.rate.hz(),
            not_shown: self.not_shown,
            link,
            advice,
        }
    }

    pub(super) fn advice(&self, counts: &Counts, since_start: Duration) -> Option<String> {
        if counts.samples > 0 {
            return self.evidence.as_ref().and_then(told_when_full);
        }
        if since_start < PATIENCE {
            return None;
        }
        if counts.bytes == 0 {
            return Some(format!(
                "nothing arrives from {}: is the board running and printing?",
                self.source
            ));
        }
        self.first_bytes.advice(counts, self.baud.as_slice())
    }

    /// Takes a look at raw bytes, for advice in case nothing decodes.
    pub(super) fn look_at(&mut self, bytes: &[u8]) {
        self.first_bytes.add(bytes);
    }

    /// Ends the capture, whatever happened before.
    pub(super) fn close(&mut self, counts: &Counts) -> Closed {
        if self.trouble.is_none() {
            // A board that had no time left to say who it is: the cable was not pulled to exchange it, most likely.
            self.believed();
        }
        let counts = self.counts(counts);
        self.state_measured_rate();
        if let Some(evidence) = &mut self.evidence {
            evidence.meta_mut().stream = counts.clone();
        }
        let mut closed = Closed::default();
        if let Some(mut writer) = self.writer.take() {
            let path = writer.path().to_owned();
            closed.failed = writer.end(&counts).err().map(|e| e.to_string());
            closed.where_it_is = where_it_is(&path, writer.leave());
            closed.file = Some(path);
        } else if self.out.is_some() {
            "\n  No sample was recorded".clone_into(&mut closed.where_it_is);
        }
        closed
    }

    /// The stream's counts as far as they are of this run's board.
    pub(super) fn counts(&self, counts: &Counts) -> StreamCounts {
        self.doubt.counts(stream_counts(counts))
    }
}

/// How a capture ended.
#[derive(Debug, Default)]
pub(super) struct Closed {
    /// The file, if one was begun.
    pub(super) file: Option<PathBuf>,
    /// Why the file is not whole.
    pub(super) failed: Option<String>,
    /// Words about what is on the disk, to stand behind those of a failure.
    pub(super) where_it_is: String,
}

fn where_it_is(path: &Path, on_disk: OnDisk) -> String {
    let OnDisk {
        samples,
        taken,
        there,
    } = on_disk;
    let path = path.display();
    if !there {
        return format!(
            "\n  {taken} samples were taken, and none of them is under the name {path} any more"
        );
    }
    match taken - samples {
        0 => format!("\n  What was taken until then, {taken} samples, is in {path}"),
        lost => format!(
            "\n  {taken} samples were taken: the first {samples} are in {path}, the last {lost} are lost"
        ),
    }
}

/// What the screen can no longer say of a run, and who will.
fn told_when_full(evidence: &Evidence) -> Option<String> {
    evidence.is_full().then(|| {
        format!(
            "the figures here are of the first {} samples of the steps; those at the end are of all of them",
            evidence.most()
        )
    })
}

fn told(header: &Header) -> String {
    let rate = header.rate_hz.map_or_else(
        || "no rate".to_owned(),
        |hz| format!("{hz} samples a second"),
    );
    let time = if header.has_time() {
        ""
    } else {
        "no board time, "
    };
    format!(
        "{} bits, {} mV, {rate}, {time}columns {}",
        header.bits(),
        header.vref_mv(),
        header.columns.join(",")
    )
}

fn stream_counts(counts: &Counts) -> StreamCounts {
    StreamCounts {
        lines: counts.lines,
        samples: counts.samples,
        rejected: counts
            .rejected_by_cause()
            .map(|(cause, n)| (cause.words().to_owned(), n))
            .collect(),
        missing: counts.missing,
        restarts: counts.restarts,
    }
}

/// Samples a second: over the last second or so, and over all.
#[derive(Debug, Default)]
struct RateWatch {
    first_us: Option<u64>,
    last_us: u64,
    all: u64,
    since_us: u64,
    n: u32,
    hz: Option<f64>,
}

impl RateWatch {
    fn push(&mut self, t_us: u64) {
        if self.first_us.is_none() {
            (self.first_us, self.since_us, self.last_us) = (Some(t_us), t_us, t_us);
            return;
        }
        self.last_us = t_us;
        self.all += 1;
        self.n += 1;
        let passed_s = seconds_from_us(t_us.saturating_sub(self.since_us));
        if passed_s >= 1.0 {
            self.hz = Some(f64::from(self.n) / passed_s);
            (self.since_us, self.n) = (t_us, 0);
        }
    }

    fn hz(&self) -> Option<f64> {
        self.hz
    }

    /// Over all samples; from a tenth of a second on.
    #[allow(clippy::cast_precision_loss)] // a count of samples
    fn overall_hz(&self) -> Option<f64> {
        let passed_s = seconds_from_us(self.last_us.saturating_sub(self.first_us?));
        (passed_s > 0.1).then(|| self.all as f64 / passed_s)
    }
}
