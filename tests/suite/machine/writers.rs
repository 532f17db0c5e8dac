//! Many programs that add to one machine at once: nothing is lost.

use crate::support::program::{changed, program};
use pedalproof::machine;

const WRITERS: usize = 20;

#[test]
fn twenty_at_once_lose_nothing() {
    let dir = tempfile::tempdir().unwrap();
    let dir = dir.path();
    let file = dir.join("T.json");
    let text = r#"{"format":"machine/1","name":"T","controls":[{"name":"dial","profile":"dial-rheostat"}]}"#;
    std::fs::write(&file, text).unwrap();
    for n in 0..WRITERS {
        // Each its own: another tag is another file of metadata, a shorter table another sum.
        changed(
            dir,
            "T1-dial",
            &format!("dial-{n}"),
            |meta| meta,
            |table| {
                let lines: Vec<&str> = table.lines().take(200 + n).collect();
                lines.join("\n") + "\n"
            },
        );
    }
    let started: Vec<_> = (0..WRITERS)
        .map(|n| {
            let mut command = program(dir);
            command.args(["machine", "add", "T.json", &format!("dial-{n}.csv")]);
            command.stderr(std::process::Stdio::piped());
            command.spawn().unwrap()
        })
        .collect();
    for one in started {
        let ended = one.wait_with_output().unwrap();
        let message = String::from_utf8_lossy(&ended.stderr).into_owned();
        assert!(ended.status.success(), "{message}");
    }
    let machine = machine::read(&file).unwrap();
    let mut files: Vec<_> = machine
        .evidence
        .iter()
        .map(|one| one.file.clone())
        .collect();
    files.sort();
    files.dedup();
    assert_eq!((machine.evidence.len(), files.len()), (WRITERS, WRITERS));
    // Nothing is left lying beside but, where a system locks no folders, what was locked instead.
    let hidden = std::fs::read_dir(dir).unwrap().filter(|entry| {
        let name = entry.as_ref().unwrap().file_name();
        name.to_string_lossy().starts_with('.') && (cfg!(unix) || name != ".T.json.lock")
    });
    assert_eq!(hidden.count(), 0);
}
