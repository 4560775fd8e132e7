"""Why a study is impossible and what would free it; what limits cost where it is possible."""
