"""What the painter does, one file a verb: plain values in, one frozen result out, with or without a job."""
