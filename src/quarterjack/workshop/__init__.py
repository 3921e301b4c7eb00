"""Where does the job stand? The bench folder of every clock."""
