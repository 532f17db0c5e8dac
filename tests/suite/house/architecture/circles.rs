//! No circles of files inside a package: a file can be read, tested and moved with what it stands on.
//!
//! A file knows another when a path in its code leads there: imports, children and what `pub use` hands on are followed to
//! the file where the name is made. Handing on is not knowing.

use super::source::{File, PACKAGES, files, named, paths, project};
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

/// A module as its names from the root of the package on.
type Place = Vec<String>;

/// One file: the paths that it hands on, those that it imports, and all the others that it names.
#[derive(Default)]
struct Module {
    hands_on: Vec<Place>,
    imports: Vec<Place>,
    names: Vec<Place>,
}

struct Package(BTreeMap<Place, Module>);

impl Package {
    fn read(folder: &Path, files: &[File]) -> Self {
        Self(
            files
                .iter()
                .map(|file| (place(&file.path, folder), module(&file.code)))
                .collect(),
        )
    }

    /// A path named in a module, from the root of the package on; none when it leads outside.
    fn rooted(&self, path: &[String], within: &[String]) -> Option<Place> {
        let mut at = within.to_vec();
        let mut rest = path;
        match path[0].as_str() {
            "crate" => at.clear(),
            "self" => {}
            "super" => {
                while rest.first().is_some_and(|part| part == "super") {
                    at.pop()?;
                    rest = &rest[1..];
                }
                return Some([&at, rest].concat());
            }
            first => {
                let child = [within, &[first.to_owned()]].concat();
                if self.0.contains_key(&child) {
                    return Some([&child, &path[1..]].concat());
                }
                let imports = &self.0[within].imports;
                let import = imports
                    .iter()
                    .find(|import| import.last() == path.first())?;
                // An import that begins with its own name is of another package.
                let import = (import[0] != *first).then_some(import)?;
                let import = self.rooted(import, within)?;
                return Some([&import, &path[1..]].concat());
            }
        }
        Some([&at, &rest[1..]].concat())
    }

    /// The file where what a path names is made; none when it is a whole module or is not found.
    fn maker(&self, path: &[String], depth: usize) -> Option<Place> {
        let length = (0..=path.len())
            .rev()
            .find(|n| self.0.contains_key(&path[..*n]))?;
        let (module, item) = (&path[..length], path.get(length)?);
        let hands_on = &self.0[module].hands_on;
        let by_name = hands_on.iter().filter(|handed| handed.last() == Some(item));
        let all = hands_on
            .iter()
            .filter(|handed| handed.last().is_some_and(|last| last == "*"));
        for handed in by_name.chain(all) {
            let mut on = self.rooted(handed, module)?;
            if on.last().is_some_and(|last| last == "*") {
                on.pop();
                on.push(item.clone());
            }
            if depth > 0
                && let Some(maker) = self.maker(&on, depth - 1)
            {
                return Some(maker);
            }
        }
        Some(module.to_vec())
    }

    fn known_by(&self, at: &Place) -> BTreeSet<Place> {
        let module = &self.0[at];
        let named = module.imports.iter().chain(&module.names);
        let known = named.filter_map(|path| self.maker(&self.rooted(path, at)?, 8));
        known.filter(|known| known != at).collect()
    }

    /// Files that know each other in a circle.
    fn circles(&self) -> Vec<BTreeSet<Place>> {
        let known: BTreeMap<_, _> = self.0.keys().map(|at| (at, self.known_by(at))).collect();
        let reach: BTreeMap<&Place, BTreeSet<Place>> = known
            .keys()
            .map(|start| {
                let (mut reached, mut due) = (BTreeSet::new(), vec![*start]);
                while let Some(at) = due.pop() {
                    for next in &known[at] {
                        if reached.insert(next.clone()) {
                            due.push(next);
                        }
                    }
                }
                (*start, reached)
            })
            .collect();
        let mut circles: Vec<BTreeSet<Place>> = Vec::new();
        for (at, reached) in &reach {
            let circle = || reached.iter().filter(|other| reach[other].contains(*at));
            if reached.contains(*at) && !circles.iter().any(|circle| circle.contains(*at)) {
                circles.push(circle().cloned().collect());
            }
        }
        circles
    }
}

fn place(file: &Path, folder: &Path) -> Place {
    let below = file.strip_prefix(folder).unwrap().with_extension("");
    let mut parts: Place = below
        .iter()
        .map(|part| part.to_str().unwrap().to_owned())
        .collect();
    if parts
        .last()
        .is_some_and(|last| ["mod", "lib", "main"].contains(&last.as_str()))
    {
        parts.pop();
    }
    parts
}

fn module(code: &str) -> Module {
    let mut module = Module::default();
    let mut rest = String::new();
    let mut lines = code.lines();
    while let Some(line) = lines.next() {
        let Some((before, _)) = use_statement(line) else {
            rest.push_str(line);
            rest.push('\n');
            continue;
        };
        let mut statement = line.to_owned();
        while !statement.contains(';') {
            statement.push_str(lines.next().unwrap_or(";"));
        }
        let found = paths(statement.split_once("use ").unwrap().1);
        if before.is_empty() {
            module.imports.extend(found);
        } else {
            module.hands_on.extend(found);
        }
    }
    module.names = paths(&rest);
    module
}

/// What stands before a `use`, if the line begins one.
fn use_statement(line: &str) -> Option<(&str, &str)> {
    let line = line.trim_start();
    let (before, rest) = line.strip_prefix("use ").map_or_else(
        || {
            line.split_once(" use ")
                .filter(|(before, _)| before.starts_with("pub"))
        },
        |rest| Some(("", rest)),
    )?;
    Some((before, rest))
}

#[test]
fn no_files_know_each_other_in_a_circle() {
    let mut found = Vec::new();
    for (folder, _) in PACKAGES {
        let folder = project(folder);
        let files = files(&folder);
        let package = Package::read(&folder, &files);
        let name = |at: &Place| {
            let file = files.iter().find(|file| place(&file.path, &folder) == *at);
            named(&file.unwrap().path)
        };
        for circle in package.circles() {
            let steps = circle.iter().flat_map(|from| {
                let known = package.known_by(from).into_iter();
                let known = known.filter(|to| circle.contains(to));
                known.map(|to| format!("{} -> {}", name(from), name(&to)))
            });
            let message = steps.collect::<Vec<_>>().join("\n    ");
            found.push(message);
        }
    }
    assert!(
        found.is_empty(),
        "circles of files:\n    {}",
        found.join("\n\n    ")
    );
}

#[test]
fn circles_are_found_through_what_is_handed_on() {
    let file = |name: &str, code: &str| File {
        path: Path::new("/p").join(name),
        code: code.to_owned(),
    };
    let circles = |files: &[File]| {
        let circles = Package::read(Path::new("/p"), files).circles();
        let flat = circles.iter().flatten().map(|place| place.join("::"));
        flat.collect::<Vec<_>>()
    };
    let root = || file("lib.rs", "mod a;\nmod b;\npub use b::B;\n");
    let a = || file("a/mod.rs", "mod x;\npub use x::X;\n");
    let x = || file("a/x.rs", "use crate::B;\npub struct X(B);\n");
    let b = |code| file("b.rs", code);
    assert!(circles(&[root(), a(), x(), b("pub struct B;\n")]).is_empty());
    let round = b("use super::a;\npub struct B(Box<a::X>);\n");
    assert_eq!(circles(&[root(), a(), x(), round]), ["a::x", "b"]);
}
