//! constants
