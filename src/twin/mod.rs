//! twin
