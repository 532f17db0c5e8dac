//! Formats: what is read, what is refused in which words, and what outside readers make of what is written.
mod bad_input;
mod capture;
mod csvw;
mod duckdb;
mod fuzz_found;
mod fuzz_seeds;
mod fuzzed;
mod mutate;
mod profile_new;
mod profiles;
mod schemas;
mod talk;
