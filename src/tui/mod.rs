//! tui
