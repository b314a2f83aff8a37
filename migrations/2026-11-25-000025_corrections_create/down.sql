DROP TABLE corrections_correction;
