use super::*;
use crate::bench::{FlashedBoard, Hand, trolley_block};
use crate::link::LineSource;
use crate::proof::Fault;
use measure::units::Track;

fn taking() -> StreamInfo {
    let signal = |name: &str| (name.to_owned(), Some(Track::One));
    StreamInfo {
        channels: vec![
            signal("pedal_a"),
            signal("pedal_b"),
            signal("dial"),
            ("output".to_owned(), None),
            ("enable".to_owned(), None),
        ],
        bits: 10,
        vref_mv: 5000.0,
        rate_hz: 1000.0,
        board_time: true,
        source: "simulated".to_owned(),
        tag: None,
    }
}

fn round() -> Vec<Trial> {
    Trial::round(&trolley_block().unwrap(), &Fault::ALL)
}

fn watched(script: Vec<Hand>, faults: &[Trial], latches: bool) -> ProofWatch {
    let seconds = FlashedBoard::script_s(&script);
    let block = trolley_block().unwrap();
    let mut board = FlashedBoard::new(&block, script, 1000.0, 1).unwrap();
    if !latches {
        board = board.without_latch();
    }
    let mut watch = ProofWatch::new(&block, &taking(), faults).unwrap();
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    for _ in 0..(seconds * 1001.0) as usize {
        let mut line = Vec::new();
        board.next_line(&mut line);
        let line = String::from_utf8(line).unwrap();
        let numbers = line.split(['*', '\n']).next().unwrap().split(',');
        let Ok(row) = numbers
            .map(str::parse::<u32>)
            .collect::<Result<Vec<_>, _>>()
        else {
            continue; // the header
        };
        let codes = row[1..].iter().map(|code| vec![Code(*code)]).collect();
        watch.push(&Batch {
            t_us: vec![u64::from(row[0])],
            step: vec![],
            codes,
        });
    }
    watch
}

/// Twenty places of five pedal and four dial positions, one of rest before them.
#[test]
fn a_good_board_stays_inside_and_its_places_are_taken_down() {
    let watch = watched(Hand::comparing(), &[], true);
    let outside = watch.points().iter().filter(|point| {
        let allowed = point.allowed_mv;
        allowed.is_some_and(|[low, high]| point.measured_mv[1] < low || point.measured_mv[0] > high)
    });
    assert_eq!(outside.count(), 0);
    assert!(
        (20..=28).contains(&watch.dwells().len()),
        "{:?}",
        watch.dwells()
    );
    let off = watch
        .dwells()
        .iter()
        .map(|s| (s.measured_mv - s.expected_mv).abs());
    assert!(off.fold(0.0, f64::max) < 34.0, "1 % of 3.4 V");
    let (seen, of) = watch.covered();
    assert_eq!(of, 16);
    assert!(seen >= 8, "{seen}");
    assert!(!watch.done());
}

/// Persistence of eight samples at 1 kHz and one to write it: zero after 7 to 11 ms.
#[test]
fn faults_are_timed_and_a_board_that_comes_back_is_seen() {
    let round = round();
    let good = watched(Hand::faults(&round), &round, true);
    assert!(good.done(), "{:?}", good.stage());
    assert_eq!(good.faults().len(), round.len());
    for seen in good.faults() {
        assert!(seen.done && !seen.came_back && !seen.left_out, "{seen:?}");
        // Of a wire, unless the block believes its reading.
        let wire = Fault::WIRE.contains(&seen.trial.fault);
        if wire && seen.trial != Fault::Ground.on(2) {
            let ms = seen.zero_ms.unwrap();
            assert!((7.0..=11.0).contains(&ms), "{seen:?}");
        }
    }
    let open = [Fault::Open.on(0)];
    let bad = watched(Hand::faults(&open), &open, false);
    assert!(bad.faults()[0].came_back, "{:?}", bad.faults());
}

#[test]
fn what_is_left_out_is_told_and_marked() {
    let mut watch = ProofWatch::new(&trolley_block().unwrap(), &taking(), &round()).unwrap();
    for _ in 0..3 * round().len() {
        watch.skip();
    }
    assert!(watch.done());
    assert!(watch.faults().iter().all(|seen| seen.left_out));
    assert_eq!(watch.faults().len(), 13);
    assert_eq!(watch.marks().0.len(), 26);
}

#[test]
fn a_stream_that_does_not_fit_is_refused_and_a_ragged_batch_survived() {
    let mut other = taking();
    other.channels.remove(2);
    let why = ProofWatch::new(&trolley_block().unwrap(), &other, &[]).unwrap_err();
    assert!(why.contains("3 inputs"), "{why}");
    let mut watch = ProofWatch::new(&trolley_block().unwrap(), &taking(), &[]).unwrap();
    watch.push(&Batch {
        t_us: vec![5, u64::MAX, 3],
        step: vec![],
        codes: vec![
            vec![Code(1); 3],
            vec![Code(u32::MAX); 9],
            vec![Code(0); 3],
            vec![Code(7); 3],
            vec![Code(0); 3],
        ],
    });
    watch.push(&Batch::default());
    assert!(watch.now().is_some());
}
