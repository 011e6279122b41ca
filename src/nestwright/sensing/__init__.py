"""What sensors tell: logger files, salt calibration, time in band, photographs."""
