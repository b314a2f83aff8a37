DROP TABLE runs_run;
