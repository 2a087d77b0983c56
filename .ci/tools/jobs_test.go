// Package tools has what only the checks before a commit need.
package tools

import (
	"os"
	"path/filepath"
	"testing"

	batch "k8s.io/api/batch/v1"
	"sigs.k8s.io/yaml"
)

// The Kubernetes job files have the keys of the published types and no others, and
// what an Indexed Job needs.
func TestJobFilesAreJobs(t *testing.T) {
	const dir = "../../scenarios/survey/jobs"
	files, err := filepath.Glob(filepath.Join(dir, "*.yaml"))
	if err != nil || len(files) != 2 {
		t.Fatal(files, err)
	}
	for _, path := range files {
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		var j batch.Job
		if err := yaml.UnmarshalStrict(text, &j); err != nil {
			t.Errorf("%s: %v", path, err)
			continue
		}
		pod := j.Spec.Template.Spec
		if j.APIVersion != "batch/v1" || j.Kind != "Job" || len(pod.Containers) != 1 || pod.RestartPolicy != "Never" {
			t.Errorf("%s: %+v", path, j)
			continue
		}
		c := pod.Containers[0]
		if c.Resources.Limits.Memory().IsZero() || c.Resources.Requests.Cpu().IsZero() || len(c.VolumeMounts) != 1 || pod.Volumes[0].Name != c.VolumeMounts[0].Name {
			t.Errorf("%s: %+v", path, c)
		}
		if filepath.Base(path) != "survey.yaml" {
			continue
		}
		if s := j.Spec; s.CompletionMode == nil || *s.CompletionMode != batch.IndexedCompletion || s.Completions == nil || s.BackoffLimitPerIndex == nil ||
			len(c.Env) != 1 || c.Env[0].Name != "JOB_COMPLETION_COUNT" || c.Env[0].Value != "200" || *s.Completions != 200 {
			t.Errorf("%s: %+v", path, s)
		}
	}
}
