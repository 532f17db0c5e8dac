//! What a board's header, or an argument in its place, may not say: refused with what is wrong and what it may be.

use crate::support::program::{program, stderr};
use std::fmt::Write as _;
use std::fs::File;
use std::path::Path;

/// `record` of a stream of two thousand lines, `header` ahead of it; gives what was said.
fn refused(dir: &Path, header: &str, arguments: &[&str]) -> String {
    let mut stream = header.to_owned();
    for n in 0..2000 {
        let _ = writeln!(stream, "{},512,300", n * 1000);
    }
    std::fs::write(dir.join("stream"), stream).unwrap();
    let output = program(dir)
        .args(["record", "--port", "-", "--out", "y", "--steps", "rest=1"])
        .args(arguments)
        .stdin(File::open(dir.join("stream")).unwrap())
        .output()
        .unwrap();
    let said = stderr(&output);
    assert_eq!(
        output.status.code(),
        Some(2),
        "{header}{arguments:?}: {said}"
    );
    assert!(!dir.join("y.csv").exists(), "{header}{arguments:?}: {said}");
    said
}

/// DESIGN 4.2: `step` and `ref` are columns of the recording itself, so such a recording would never be opened again.
#[test]
fn a_column_named_as_one_of_the_recordings_own_is_refused_before_recording() {
    let dir = tempfile::tempdir().unwrap();
    let stated = ["--bits", "10", "--vref-mv", "5000", "--columns"];
    for name in ["ref", "step"] {
        let columns = format!("t_us,p,{name}");
        let header = format!("# pedalproof 1 bits=10 vref_mv=5000 cols={columns}\n");
        let channel = format!("{name}=reference");
        for said in [
            refused(dir.path(), "", &[&stated[..], &[&columns]].concat()),
            refused(dir.path(), &header, &[]),
            refused(dir.path(), &header, &["--channel", &channel]),
        ] {
            let wrong = format!("`{name}` cannot be a channel's name");
            assert!(said.contains(&wrong), "{said}");
            assert!(said.contains("call it something else"), "{said}");
            assert!(said.contains("--channel angle=reference"), "{said}");
        }
    }
}
