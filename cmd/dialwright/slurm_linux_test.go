package main

import (
	"bytes"
	"context"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"
	"time"
)

// A Slurm of one node, started by the test on loopback, runs the job files as they
// stand: an array of eight with a task that is killed half-way and queued again, and
// the merge that depends on it. Its result is, byte for byte, that of one run; and the
// same array once more skips every part.
func TestASurveyOnSlurm(t *testing.T) {
	if testing.Short() {
		t.Skip("starts a Slurm: left out of short runs")
	}
	s := startSlurm(t)
	study := []string{"households", "--profile", "plain", "--profile", "linear", "--rigs", "40", "--trials", "1000"}
	job := s.submit(t, append([]string{"--array=1-8", "--mem=200M", s.file("survey.sbatch")}, study...)...)

	// Kill a task while it works: requeue sends it away and starts it anew.
	task := job + "_3"
	s.wait(t, "task 3 to run", func() bool {
		return strings.Contains(s.run(t, "squeue", "--noheader", "--array", "--jobs", job, "--states", "RUNNING", "--format", "%K"), "3\n")
	})
	time.Sleep(300 * time.Millisecond) // it has begun to work by then, or else is killed before it has
	s.run(t, "scontrol", "requeue", task)
	s.wait(t, "task 3 to be queued again", func() bool {
		return strings.Contains(s.run(t, "scontrol", "show", "job", task), "JobState=PENDING")
	})
	s.run(t, "scontrol", "update", "job", task, "StartTime=now") // not in two minutes
	merge := s.submit(t, "--dependency=afterok:"+job, s.file("merge.sbatch"))
	s.wait(t, "the array and the merge to end", func() bool {
		return strings.TrimSpace(s.run(t, "squeue", "--noheader", "--jobs", job+","+merge)) == ""
	})
	if shown := s.run(t, "scontrol", "show", "job", task); !regexp.MustCompile(`Restarts=[1-9]`).MatchString(shown) {
		t.Errorf("task 3 was never queued again:\n%s", shown)
	}
	if parts, _ := filepath.Glob(filepath.Join(s.dir, "survey-*-of-8.part")); len(parts) != 8 {
		t.Errorf("parts: %v\n%s", parts, s.logs())
	}
	result, err := os.ReadFile(filepath.Join(s.dir, "result.json"))
	if err != nil {
		t.Fatalf("%v\n%s", err, s.logs())
	}
	var out, errs bytes.Buffer
	if code := run(context.Background(), append([]string{"survey", "--format", "json"}, study...), strings.NewReader(""), &out, &errs); code != exitDone {
		t.Fatalf("exit code %d: %s", code, errs.String())
	}
	if version := regexp.MustCompile(`"version": "[^"]*"`); version.ReplaceAllString(out.String(), "") != version.ReplaceAllString(string(result), "") {
		t.Error("the merged result is not that of one run")
	}

	again := s.submit(t, append([]string{"--array=1-8", "--mem=200M", s.file("survey.sbatch")}, study...)...)
	s.wait(t, "the array to end a second time", func() bool {
		return strings.TrimSpace(s.run(t, "squeue", "--noheader", "--jobs", again)) == ""
	})
	if n := strings.Count(s.logs(), "is complete already; skipped"); n < 8 {
		t.Errorf("%d of 8 parts were skipped:\n%s", n, s.logs())
	}
}

// slurm is a running Slurm.
type slurm struct {
	dir string // of jobs, their logs and results
	env []string
}

// startSlurm starts munged, slurmctld and slurmd, which end with the test, or skips it
// with the reason.
func startSlurm(t *testing.T) *slurm {
	t.Helper()
	for _, tool := range []string{"munged", "slurmctld", "slurmd", "sbatch", "scontrol", "squeue"} {
		if _, err := exec.LookPath(tool); err != nil {
			t.Skipf("no %s here (Debian: slurm-wlm, munge)", tool)
		}
	}
	if os.Getuid() != 0 {
		t.Skip("slurmd starts jobs for others: root only")
	}
	dir, err := os.MkdirTemp("", "slurm") // a short path: sockets have little room for theirs
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	s := &slurm{dir: filepath.Join(dir, "jobs")}
	for _, sub := range []string{"jobs", "state", "spool", "bin"} {
		if err := os.Mkdir(filepath.Join(dir, sub), 0o755); err != nil {
			t.Fatal(err)
		}
	}
	if text, err := exec.Command("go", "build", "-o", filepath.Join(dir, "bin", "dialwright"), ".").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	host, err := os.Hostname()
	if err != nil {
		t.Fatal(err)
	}
	host, _, _ = strings.Cut(host, ".")
	conf := filepath.Join(dir, "slurm.conf")
	text := fmt.Sprintf(slurmConf, dir, host, freePort(t), freePort(t))
	for path, text := range map[string]string{conf: text, filepath.Join(dir, "munge.key"): strings.Repeat("not a secret: loopback only\n", 3)} {
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	s.env = append(os.Environ(), "SLURM_CONF="+conf, "PATH="+filepath.Join(dir, "bin")+":"+os.Getenv("PATH"))
	in := func(name string) string { return filepath.Join(dir, name) }
	s.start(t, "munged", "--foreground", "--force", "--socket", in("munge.socket"), "--key-file", in("munge.key"), "--pid-file", in("munged.pid"), "--log-file", in("munged.log"), "--seed-file", in("munged.seed"))
	s.wait(t, "munged", func() bool {
		_, err := os.Stat(in("munge.socket"))
		return err == nil
	})
	s.start(t, "slurmctld", "-D")
	s.start(t, "slurmd", "-D", "-N", host)
	s.wait(t, "the node to be idle", func() bool {
		c := exec.Command("sinfo", "--noheader", "--format", "%T")
		c.Env = s.env
		out, _ := c.Output()
		return strings.TrimSpace(string(out)) == "idle"
	})
	return s
}

// start starts a daemon, which ends with the test.
func (s *slurm) start(t *testing.T, name string, args ...string) {
	t.Helper()
	c := exec.Command(name, args...)
	c.Env = s.env
	c.SysProcAttr = &syscall.SysProcAttr{Pdeathsig: syscall.SIGKILL}
	var out bytes.Buffer
	c.Stdout, c.Stderr = &out, &out
	if err := c.Start(); err != nil {
		t.Skipf("%s does not start: %v", name, err)
	}
	t.Cleanup(func() {
		_ = c.Process.Signal(syscall.SIGTERM)
		kill := time.AfterFunc(10*time.Second, func() { _ = c.Process.Kill() })
		_ = c.Wait()
		kill.Stop()
		if t.Failed() {
			t.Logf("%s: %s", name, out.Bytes()[max(0, out.Len()-2000):])
		}
	})
}

func (s *slurm) run(t *testing.T, name string, args ...string) string {
	t.Helper()
	c := exec.Command(name, args...)
	c.Env, c.Dir = s.env, s.dir
	out, err := c.CombinedOutput()
	if err != nil && !bytes.Contains(out, []byte("Invalid job id")) { // it has ended and is forgotten
		t.Fatalf("%s %q: %v\n%s", name, args, err, out)
	}
	return string(out)
}

// submit submits a job and returns its number.
func (s *slurm) submit(t *testing.T, args ...string) string {
	t.Helper()
	return strings.TrimSpace(s.run(t, "sbatch", append([]string{"--parsable"}, args...)...))
}

// file returns a job file.
func (s *slurm) file(name string) string {
	path, err := filepath.Abs(filepath.Join("../../scenarios/survey/jobs", name))
	if err != nil {
		panic(err)
	}
	return path
}

func (s *slurm) wait(t *testing.T, what string, done func() bool) {
	t.Helper()
	for end := time.Now().Add(4 * time.Minute); !done(); time.Sleep(200 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("waited four minutes for %s\n%s\n%s", what, s.run(t, "squeue", "--array"), s.logs())
		}
	}
}

// logs returns what the jobs have said.
func (s *slurm) logs() string {
	var all strings.Builder
	files, _ := filepath.Glob(filepath.Join(s.dir, "*.log"))
	for _, f := range files {
		text, _ := os.ReadFile(f)
		fmt.Fprintf(&all, "%s:\n%s", filepath.Base(f), text)
	}
	return all.String()
}

// freePort returns a port that nobody uses just now.
func freePort(t *testing.T) int {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Skip(err)
	}
	defer l.Close()
	return l.Addr().(*net.TCPAddr).Port
}

// slurmConf is a Slurm of one node without accounting: directory, host, two ports.
const slurmConf = `ClusterName=one
SlurmctldHost=%[2]s(127.0.0.1)
SlurmctldPort=%[3]d
SlurmdPort=%[4]d
AuthType=auth/munge
AuthInfo=socket=%[1]s/munge.socket
CredType=cred/munge
SlurmUser=root
SlurmdUser=root
StateSaveLocation=%[1]s/state
SlurmdSpoolDir=%[1]s/spool
SlurmctldPidFile=%[1]s/slurmctld.pid
SlurmdPidFile=%[1]s/slurmd.pid
SlurmctldLogFile=%[1]s/slurmctld.log
SlurmdLogFile=%[1]s/slurmd.log
ProctrackType=proctrack/linuxproc
TaskPlugin=task/none
SwitchType=switch/none
MpiDefault=none
SelectType=select/cons_tres
SelectTypeParameters=CR_Core
SchedulerType=sched/backfill
SchedulerParameters=batch_sched_delay=1,sched_min_interval=100000,requeue_delay=1
AccountingStorageType=accounting_storage/none
JobAcctGatherType=jobacct_gather/none
JobCompType=jobcomp/none
ReturnToService=2
MinJobAge=600
NodeName=%[2]s NodeAddr=127.0.0.1 CPUs=2 RealMemory=4000 State=UNKNOWN
PartitionName=main Nodes=ALL Default=YES MaxTime=INFINITE State=UP
`
