"""Pictures and pages for people on a site: the sketch of the pipe, and the report that a client keeps. Computes no hydraulics."""
