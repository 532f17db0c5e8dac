//! From the cable to the capture and the screen: streams, pseudo-terminals, faults and load.
mod counted;
mod faults;
mod load;
mod record;
mod record_card;
mod screen;
#[cfg(unix)] // python3 and c++ by these names
mod scripted;
mod scripted_source;
mod serial_pty;
mod setting;
mod stations;
mod stream_cut;
mod stream_decode;
#[cfg(unix)]
mod unstated;
mod window_closed;
