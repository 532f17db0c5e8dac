//! Recordings made with something else: ten files as scopes, loggers, spreadsheets and serial monitors write them, made here of
//! parts of known truth, each with its right verdict; and the command itself.
mod command;
mod files;
mod mistaken;
