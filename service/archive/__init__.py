"""An archive of years of swings: its files, its plan, its tables, and the engine that works on it.

Needs the extra ``archive`` (pyarrow, dask, tqdm); nothing else of the service does.
"""
