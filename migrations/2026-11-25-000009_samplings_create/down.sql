DROP TABLE samplings_sampling;
