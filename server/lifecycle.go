package server

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"time"
)

// stopWithin bounds a graceful stop.
const stopWithin = 10 * time.Second

// step is one named part of stopping.
type step struct {
	name string
	do   func(context.Context) error
}

// Start binds the address before it returns, so that an address in use is an ordinary error, and serves
// in the background.
func (s *Server) Start() error {
	listener, err := net.Listen("tcp", s.settings.Listen)
	if err != nil {
		return fmt.Errorf("cannot listen on %s: %w", s.settings.Listen, err)
	}
	s.address = listener.Addr().String()
	s.onStop("web", func(ctx context.Context) error { return s.http.Shutdown(ctx) })
	go func() {
		err := s.serve(listener)
		if !errors.Is(err, http.ErrServerClosed) {
			s.failed <- err
		}
	}()
	if s.metrics != nil {
		if s.metricsAddress, err = s.beside("metrics", s.metrics, s.settings.MetricsListen); err != nil {
			return err
		}
	}
	if s.plain != nil {
		if _, err := s.beside("plain http", s.plain, s.settings.PlainListen); err != nil {
			return err
		}
	}
	s.worker.Start()
	s.onStop("worker", func(context.Context) error { s.worker.Stop(); return nil })
	return nil
}

func (s *Server) serve(listener net.Listener) error {
	if s.http.TLSConfig != nil {
		return s.http.ServeTLS(listener, "", "")
	}
	return s.http.Serve(listener)
}

// beside serves something else on a listener of its own, and gives where that is.
func (s *Server) beside(name string, srv *http.Server, address string) (string, error) {
	listener, err := net.Listen("tcp", address)
	if err != nil {
		return "", fmt.Errorf("cannot listen on %s for %s: %w", address, name, err)
	}
	s.onStop(name, srv.Shutdown)
	go func() {
		if err := srv.Serve(listener); !errors.Is(err, http.ErrServerClosed) {
			s.failed <- err
		}
	}()
	return listener.Addr().String(), nil
}

// Failed tells when serving has ended by itself.
func (s *Server) Failed() <-chan error { return s.failed }

// Address is where the server listens, once started: "127.0.0.1:8400".
func (s *Server) Address() string { return s.address }

func (s *Server) onStop(name string, do func(context.Context) error) {
	s.stops = append(s.stops, step{name, do})
}

// Stop finishes what was started and closes everything, the last opened first, within ten seconds. A part
// that fails does not keep the rest from stopping. Stopping twice is fine.
func (s *Server) Stop() error {
	ctx, cancel := context.WithTimeout(context.Background(), stopWithin)
	defer cancel()
	var problems []error
	for i := len(s.stops) - 1; i >= 0; i-- {
		if err := s.stops[i].do(ctx); err != nil {
			problems = append(problems, fmt.Errorf("stopping the %s: %w", s.stops[i].name, err))
		}
	}
	s.stops = nil
	return errors.Join(problems...)
}
