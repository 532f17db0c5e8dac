//! Measures an array of codes: a second at rest, a second fully pressed. `cargo run -p pedalproof-measure --example measure_codes`

use measure::figure::COVERAGE;
use measure::units::{Code, Passage, Role, Scale, Step, Track};
use measure::{BoardFacts, Channel, Recording, figures};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let level = |i: u32| if i < 1000 { 164 } else { 840 };
    let codes: Vec<Code> = (0..2000).map(|i| Code(level(i) + i * 7 % 5)).collect();
    let t_us: Vec<u64> = (0..2000).map(|i| i * 1000).collect();
    let passage = |step, range| Passage { step, range };
    let passages = [
        passage(Step::Rest, 0..1000),
        passage(Step::Full, 1000..2000),
    ];
    let (scale, rate_hz, role) = (Scale::new(10, 5000.0)?, 1000.0, Role::Signal);
    let board = BoardFacts {
        scale,
        rate_hz,
        inl_code: None,
        board_time: true,
    };
    let channels = vec![Channel {
        name: "pedal",
        role,
        track: Track::One,
        codes: &codes,
    }];
    let recording = Recording {
        board,
        t_us: &t_us,
        passages: &passages,
        channels,
        reference: None,
    };
    for (name, figure) in figures(&recording).channels[0].figures.iter() {
        if let Some((figure, low)) = figure.and_then(|figure| Some((figure, figure.low?))) {
            let high = figure
                .high
                .map_or("?".to_owned(), |high| format!("{high:.3}"));
            let percent = 100.0 * COVERAGE;
            println!(
                "{name}: {:.3} ({percent:.0} %: {low:.3} to {high})",
                figure.value
            );
        }
    }
    Ok(())
}
