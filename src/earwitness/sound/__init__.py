"""What can be measured in an array of samples. Knows nothing of files and plants.

fitness.examine(samples or blocks, rate_hz, *, kind, signal, sensor, lossy, frames_promised, cut_short, mains_hz,
                speed_hz) -> FitnessReport(problems, start, stop, measures; .fit, .spoiled, .codes)
fitness.Examiner(rate_hz, ...).add(block); .report()             the same for a stream; one a channel
spectrum.spectrogram(samples, rate_hz, *, window_s, overlap) -> Spectrogram
spectrum.averaged_spectrum(samples, rate_hz, *, resolution_hz) -> Spectrum; spectrum.noise_floor(density)
heterodyne.fold(samples, rate_hz, oscillator_hz, *, low_pass_hz, out_hz)    a wide-band recording made audible
heterodyne.busiest_centre(samples, rate_hz) -> Hz                where to set the oscillator
bands.fractional_octaves(low_hz, high_hz, *, fraction) -> Bands; bands.band_levels(samples, rate_hz) -> BandLevels
"""
