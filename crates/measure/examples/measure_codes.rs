//! Measures an array of codes: a second at rest, 1 kHz, 10 bits. `cargo run -p pedalproof-measure --example measure_codes`

use measure::units::{Code, Passage, Scale, Step, Track};
use measure::{BoardFacts, Channel, Recording, figures};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let codes: Vec<Code> = (0..1000).map(|i| Code(164 + i * 7 % 5)).collect();
    let t_us: Vec<u64> = (0..1000).map(|i| i * 1000).collect();
    let (step, range) = (Step::Rest, 0..1000);
    let board = BoardFacts::new(Scale::new(10, 5000.0)?, 1000.0);
    let passages = [Passage { step, range }];
    let mut recording = Recording::new(board, &t_us, &passages);
    recording.channels = vec![Channel::signal("pedal", Track::One, &codes)];
    for (name, figure) in figures(&recording).channels[0].figures.iter() {
        println!("{name}: {figure:?}");
    }
    Ok(())
}
