//! Default folders and files: by option, environment variable, configuration file, or the platform's convention.

use super::screen_args::BAUDS;
use crate::files;
use crate::outlet::{self, Shown};
use anyhow::{Context, anyhow};
use etcetera::BaseStrategy;
use serde::de::Error;
use serde::{Deserialize, Deserializer};
use std::path::{Path, PathBuf};

/// The program's folder below the platform's.
const FOLDER: &str = "pedalproof";

/// What the configuration file may say. Everything is optional.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Config {
    pub(super) records: Option<PathBuf>,
    pub(super) ascii: Option<bool>,
    pub(super) mouse: Option<bool>,
    pub(super) details: Option<bool>,
    pub(super) silent: Option<bool>,
    #[serde(default, deserialize_with = "baud")]
    pub(super) baud: Option<u32>,
}

/// The same speeds as the option takes.
fn baud<'de, D: Deserializer<'de>>(from: D) -> Result<Option<u32>, D::Error> {
    let baud = i64::deserialize(from)?;
    let known = u32::try_from(baud).ok().filter(|_| BAUDS.contains(&baud));
    known.map(Some).ok_or_else(|| {
        let (least, most) = (BAUDS.start(), BAUDS.end());
        D::Error::custom(format!(
            "{baud} is no speed of a port: give {least} to {most} baud"
        ))
    })
}

/// Files of the working folder with this ending, in order of their names; none when nobody may look into it.
pub(super) fn here(ending: &str) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(".").into_iter().flatten();
    let mut files: Vec<PathBuf> = entries
        .filter_map(Result::ok)
        .map(|entry| PathBuf::from(entry.file_name()))
        .filter(|path| path.extension().is_some_and(|end| end == ending))
        .collect();
    files.sort();
    files
}

/// The configuration file: `PEDALPROOF_CONFIG`, else `config.toml` in the platform's configuration folder.
pub(super) fn config_file() -> anyhow::Result<PathBuf> {
    if let Some(path) = from_env("PEDALPROOF_CONFIG") {
        return Ok(path);
    }
    let places = etcetera::choose_base_strategy().context("there is no home folder to look in")?;
    Ok(places.config_dir().join(FOLDER).join("config.toml"))
}

/// What the configuration file says; nothing when there is none.
pub(super) fn config() -> anyhow::Result<Config> {
    let asked_for = from_env("PEDALPROOF_CONFIG").is_some();
    let Ok(path) = config_file() else {
        return Ok(Config::default());
    };
    if path == Path::new("/dev/null") {
        return Ok(Config::default()); // the usual word for none
    }
    match files::read_text(&path) {
        Ok(text) => toml::from_str(&text).map_err(|e| wrong(&text, &e)).with_context(|| {
            format!(
                "in the configuration file {}: it may say records = \"FOLDER\", ascii = true, mouse = true, details = true, silent = true, baud = 115200",
                path.shown()
            )
        }),
        Err(e) if e.kind() == std::io::ErrorKind::NotFound && !asked_for => Ok(Config::default()),
        Err(e) => {
            let named = if asked_for {
                ", which PEDALPROOF_CONFIG names"
            } else {
                ""
            };
            Err(e).with_context(|| {
                format!(
                    "cannot read the configuration file {}{named}",
                    path.shown()
                )
            })
        }
    }
}

/// What is wrong in the configuration file and where, on one line whatever stands there.
fn wrong(text: &str, error: &toml::de::Error) -> anyhow::Error {
    let at = error.span().map_or(0, |span| span.start);
    let before = text.get(..at).unwrap_or_default();
    let line = 1 + before.matches('\n').count();
    anyhow!("line {line}: {}", outlet::line(error.message()))
}

/// The folder of records: `folder`, else `PEDALPROOF_RECORDS`, the configuration file, the platform's data folder.
pub(super) fn records(folder: Option<&Path>) -> anyhow::Result<PathBuf> {
    if let Some(folder) = folder {
        return Ok(folder.to_owned());
    }
    if let Some(folder) = from_env("PEDALPROOF_RECORDS") {
        return Ok(folder);
    }
    if let Some(folder) = config()?.records {
        return Ok(folder);
    }
    let places = etcetera::choose_base_strategy()
        .context("there is no home folder to keep records in: say --records FOLDER")?;
    Ok(places.data_dir().join(FOLDER).join("records"))
}

/// The folder for what the program remembers by itself: `PEDALPROOF_STATE`, else the platform's state folder, if there is one.
pub(super) fn state() -> Option<PathBuf> {
    from_env("PEDALPROOF_STATE").or_else(|| {
        let places = etcetera::choose_base_strategy().ok()?;
        let folder = places.state_dir().unwrap_or_else(|| places.data_dir());
        Some(folder.join(FOLDER))
    })
}

fn from_env(variable: &str) -> Option<PathBuf> {
    std::env::var_os(variable)
        .filter(|value| !value.is_empty())
        .map(PathBuf::from)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_configuration_says_what_it_knows_and_nothing_else() {
        let config: Config = toml::from_str("records = \"/srv/r\"\nbaud = 9600").unwrap();
        assert_eq!(config.records, Some(PathBuf::from("/srv/r")));
        assert_eq!((config.baud, config.ascii), (Some(9600), None));
        let refused = toml::from_str::<Config>("record = \"/srv/r\"").unwrap_err();
        assert!(refused.to_string().contains("record"), "{refused}");
        for none in ["0", "49", "50000001", "4294967295", "4294967296", "-9600"] {
            let refused = toml::from_str::<Config>(&format!("baud = {none}")).unwrap_err();
            assert!(refused.to_string().contains("50 to 50000000"), "{refused}");
        }
    }
}
