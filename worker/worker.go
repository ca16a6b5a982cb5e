package worker
